"""How soon the picture follows the hand: a drag in Chromium with the processor slowed four times, on this machine.

Run it with `python tests/bench/bench_drag.py [rounds]`; it prints one JSON line a round. It serves the demo from a
folder of its own, opens a card, and drags each of its handles (preload, rate and gap) by real pointer events. Timed is,
for every pointer event that changed the value, how long until a frame was painted that shows this value or a newer one
(`follow`): from the event's own time to the first task after the animation frame that follows the change of the
document. Which value a frame shows is told by its curve, which is looked up in what the server answered. `own` is the
part of the values that had a frame of their own. Beside it stand the machine's own figures, in the same slowed browser:
`bare` is the same drag over a page that only writes the pointer's place, timed the same way, and `empty` a request to a
view that does nothing. Nothing here is asserted by a test, for times are a machine's own.
"""

from __future__ import annotations

import io
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from playwright.sync_api import BrowserContext, Page, sync_playwright

from tests.bench.bench_evaluate import ROOT, free_port, wait_for
from tests.browser.devices import CHROMIUM, TABLET

SLOWED = 4
SWEEPS, STEPS, EMPTY_ROUNDS = 12, 18, 60
FRAME_MS, GRASP_MS, PATIENCE_MS = 16, 200, 2_000
PX_PER_STEP = 5
"""What the finger goes for one step (`grips.js`)."""
HANDLES = {
    "preload": ("legs.0.preload_mm", 0.5),
    "rate": ("legs.0.spring.rate_n_per_mm", 0.1),
    "gap": ("legs.0.air_gap_mm", -1.0),
}
"""By what is turned, its path and what a step upwards adds to it (`knobs.js`)."""

# From the beginning: some answers are there before the hand comes.
LISTEN = """
window.seen = { events: [], frames: [], answers: [] };
const ask = window.fetch.bind(window);
window.fetch = async (path, options) => {
  const response = await ask(path, options);
  if (!String(path).endsWith("/follow/")) return response;
  // The client's own reading is kept, and looked into once the drag is over: it should cost the drag little.
  const read = response.text.bind(response);
  response.text = async () => {
    const text = await read();
    seen.answers.push({ asked: options.body, text });
    return text;
  };
  return response;
};
"""

WATCH = """(path) => {
  const seen = window.seen;
  const grip = document.querySelector(`.grip[name='${path}.grip']`);
  const number = (name) => Number(grip.getAttribute(`aria-value${name}`));
  seen.grip = { now: number("now"), low: number("min"), high: number("max") };
  addEventListener("pointermove", (event) => {
    seen.events.push({ y: event.clientY, at: event.timeStamp });
  }, true);
  const frame = document.querySelector(".in-hand .picture-frame");
  const painted = new MessageChannel();
  const waiting = [];
  painted.port1.onmessage = () => {
    for (const curve of waiting.splice(0)) seen.frames.push({ curve, at: performance.now() });
  };
  let shown = "";
  let trace = null;
  new MutationObserver(() => {
    if (!trace?.isConnected) trace = frame.querySelector(".pic-chosen");
    const curve = trace?.getAttribute("points") ?? "";
    if (curve === shown) return;
    shown = curve;
    requestAnimationFrame(() => {
      waiting.push(curve);
      painted.port2.postMessage(null);
    });
  }).observe(frame, { subtree: true, childList: true, attributeFilter: ["points"] });
}"""

SEEN = """(path) => {
  const curves = {};
  for (const { asked, text } of window.seen.answers) {
    const { picture, tries } = JSON.parse(text);
    const document = new DOMParser().parseFromString(picture, "image/svg+xml");
    const elements = [...document.querySelectorAll("*")];
    const trace = elements.findIndex((one) => one.classList.contains("pic-chosen"));
    JSON.parse(asked).tries.forEach((values, index) => {
      const points = tries[index].changes?.[trace]?.points ?? elements[trace].getAttribute("points");
      curves[points] = values[path];
    });
  }
  const { events, frames, grip } = window.seen;
  const known = frames.filter(({ curve }) => curve in curves);
  return { events, grip, frames: known.map(({ curve, at }) => ({ value: curves[curve], at })) };
}"""

BARE = """<!doctype html><p>0</p>"""
WATCH_BARE = """() => {
  window.took = [];
  const text = document.querySelector("p").firstChild;
  const painted = new MessageChannel();
  const waiting = [];
  painted.port1.onmessage = () => {
    for (const at of waiting.splice(0)) window.took.push(performance.now() - at);
  };
  addEventListener("pointermove", (event) => {
    text.nodeValue = String(event.clientY);
    requestAnimationFrame(() => {
      waiting.push(event.timeStamp);
      painted.port2.postMessage(null);
    });
  });
}"""

EMPTY = """async (rounds) => {
  const token = document.cookie.split("; ").find((each) => each.startsWith("csrftoken="))?.slice(10) ?? "";
  const took = [];
  for (let round = 0; round < rounds; round += 1) {
    const begin = performance.now();
    const headers = { "Content-Type": "application/json", "X-CSRFToken": token };
    const response = await fetch("/api/empty/", { method: "POST", headers, body: "{}", cache: "no-store" });
    await response.text();
    if (!response.ok) throw new Error(`empty view: ${response.status}`);
    took.push(performance.now() - begin);
  }
  return took;
}"""


def demo() -> tuple[str, int]:
    """Build the demo, and return a session of the technician whose card is being chosen, and that card's id."""
    # Settings read the environment when they are first used, which must not be before the folder is made.
    import django  # noqa: PLC0415
    from django.core.management import call_command  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    django.setup()
    from setups.models import JobCard  # noqa: PLC0415
    from shops.access import everywhere  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    call_command("demo", stdout=io.StringIO())
    card = everywhere(JobCard, why="this bench").filter(step="chosen").order_by("pk")[0]
    client = Client()
    client.force_login(card.opened_by, backend="shops.sign_in.PersonBackend")
    return client.cookies["sessionid"].value, card.pk


def sweep(page: Page, x: float, y: float) -> None:
    """Press, and once it is pressed move up and down, one pointer event a frame, and rest; the pointer stays pressed.

    The events go to the browser itself: Playwright's own mouse runs a script in the page before each of them. Between
    them this process sleeps, for to wait by Playwright takes a hand's worth of the two processors.
    """
    mouse = page.context.new_cdp_session(page)

    def send(kind: str, height: float, buttons: int) -> None:
        event = {"type": kind, "x": x, "y": height, "button": "left" if buttons else "none", "buttons": buttons}
        mouse.send("Input.dispatchMouseEvent", {**event, "clickCount": 1})

    send("mouseMoved", y, 0)
    send("mousePressed", y, 1)
    page.wait_for_timeout(GRASP_MS)
    for number in range(SWEEPS):
        for step in range(STEPS):
            part = step / STEPS if number % 2 == 0 else 1 - step / STEPS
            send("mouseMoved", y - PX_PER_STEP * STEPS * part, 1)
            time.sleep(FRAME_MS / 1000)
    page.wait_for_timeout(PATIENCE_MS)


def dragged(page: Page, path: str) -> dict[str, Any]:
    """Drag the handle of what is at `path` up and down, and return what the page saw."""
    grip = page.locator(f".grip[name='{path}.grip']")
    grip.wait_for()
    box = grip.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    sweep(page, x, y)
    return dict(page.evaluate(SEEN, path)) | {"y": y}


def bare(context: BrowserContext) -> list[float]:
    """Return how long a page that only writes the pointer's place takes to show it, ms."""
    page = context.new_page()
    page.set_content(BARE)
    slow(page)
    page.evaluate(WATCH_BARE)
    sweep(page, TABLET["width"] / 2, TABLET["height"] / 2)
    took = list(page.evaluate("window.took"))
    page.close()
    return took


def slow(page: Page) -> None:
    """Slow the page's processor down."""
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})


def wanted(seen: dict[str, Any], step: float) -> list[dict[str, float]]:
    """Return the events that changed the value, each with the value it asks for."""
    grip = seen["grip"]
    changed, value = [], grip["now"]
    for event in seen["events"]:
        moved = grip["now"] + step * round((seen["y"] - event["y"]) / PX_PER_STEP)
        held = round(min(max(moved, grip["low"]), grip["high"]), 6)
        if held != value:
            value = held
            changed.append({"value": held, "at": event["at"]})
    return changed


def waits(events: list[dict[str, float]], frames: list[dict[str, float]]) -> tuple[list[float], int]:
    """Return how long each event waited for its value or a newer one, ms, and how many had a frame of their own."""
    shown_by: list[tuple[int, float]] = []  # which event a frame shows, and when
    first = 0
    for frame in frames:
        found = [at for at in range(first, len(events)) if events[at]["at"] <= frame["at"]]
        same = [at for at in found if events[at]["value"] == round(frame["value"], 6)]
        if same:
            first = same[-1]
            shown_by.append((first, frame["at"]))
    follow = [
        min((when for shown, when in shown_by if shown >= at), default=float("inf")) - event["at"]
        for at, event in enumerate(events)
    ]
    return follow, len(shown_by)


def spread(name: str, took: list[float]) -> dict[str, float]:
    """Return the median and the 95th percentile of times in ms."""
    return {
        f"{name}_median_ms": round(statistics.median(took), 1),
        f"{name}_p95_ms": round(statistics.quantiles(took, n=20)[18], 1),
        f"{name}_count": len(took),
    }


def opened(context: BrowserContext, base: str, card: int) -> Page:
    """Return the card where its springs are chosen, in a browser that is slowed from now on."""
    page = context.new_page()
    page.add_init_script(LISTEN)
    page.set_default_timeout(60_000)
    page.goto(f"{base}/#/cards/{card}/chosen")
    page.locator(".grip").first.wait_for()
    page.locator(".spring-row").first.wait_for()
    page.wait_for_timeout(2_000)
    slow(page)
    return page


def measure(base: str, session: str, card: int) -> dict[str, Any]:
    """Drag each handle in a slowed browser, and return the figures of one round."""
    with sync_playwright() as player:
        args = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"]
        browser = player.chromium.launch(executable_path=str(CHROMIUM), args=args)
        context = browser.new_context(viewport={"width": TABLET["width"], "height": TABLET["height"]}, locale="en-GB")
        context.add_cookies([{"name": "sessionid", "value": session, "url": base, "sameSite": "Strict"}])
        follows: dict[str, list[float]] = {}
        own, empty = 0, []
        for name, (path, step) in HANDLES.items():
            page = opened(context, base, card)
            empty += page.evaluate(EMPTY, EMPTY_ROUNDS // len(HANDLES))
            page.evaluate(WATCH, path)
            seen = dragged(page, path)
            follows[name], shown = waits(wanted(seen, step), seen["frames"])
            own += shown
            page.close()
        alone = bare(context)
        browser.close()
    follow = [took for each in follows.values() for took in each]
    return {
        "bench": "drag",
        "slowed": SLOWED,
        **spread("follow", follow),
        **{f"{name}_p95_ms": spread(name, took)[f"{name}_p95_ms"] for name, took in follows.items()},
        "own": round(own / len(follow), 2),
        **spread("bare", alone),
        **spread("empty", empty),
        "load": round(os.getloadavg()[0], 1),
        "cores": os.cpu_count(),
    }


def main() -> None:
    """Serve, measure as often as asked, stop."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"COILBOOK_DATA": folder, "DJANGO_SETTINGS_MODULE": "shops.site.settings"}
        os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
        os.environ.pop("DATABASE_URL", None)
        (session, card), port = demo(), free_port()
        command = [sys.executable, "-m", "gunicorn", "tests.bench.served:with_bench_views()"]
        command += ["--bind", f"127.0.0.1:{port}", "--worker-class", "gthread", "--threads", "8", "--keep-alive", "5"]
        command += ["--log-level", "warning", "--worker-tmp-dir", folder]
        server = subprocess.Popen(command, cwd=ROOT)
        try:
            wait_for(port, server).close()
            for _ in range(rounds):
                print(json.dumps(measure(f"http://127.0.0.1:{port}", session, card)), flush=True)
        finally:
            server.terminate()
            server.wait(30)


if __name__ == "__main__":
    main()
