"""How soon the picture follows the hand: a drag in Chromium with the processor slowed four times, on this machine.

Run it with `python tests/bench/bench_drag.py [rounds]`; it prints one JSON line a round. It serves the demo from a
folder of its own, opens a card, and drags the preload's handle by real pointer events. Timed is, for every pointer
event that changed the value, how long until a frame was painted that shows this value or a newer one (`follow`), and
for the values that were asked of the server, until the frame with just that value (`asked`): from the event's own time
to the first task after the animation frame that follows the change of the document. `empty` is a request to a view
that does nothing, in the same page. Nothing here is asserted by a test, for times are a machine's own.
"""

from __future__ import annotations

import io
import json
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from playwright.sync_api import Page, sync_playwright

from tests.bench.bench_evaluate import ROOT, free_port, wait_for
from tests.browser.conftest import CHROMIUM, TABLET

SLOWED = 4
SWEEPS, STEPS, EMPTY_ROUNDS = 10, 24, 60
FRAME_MS, PATIENCE = 16, 50

WATCH = """() => {
  const seen = { events: [], frames: [] };
  window.seen = seen;
  const ask = window.fetch.bind(window);
  let answered = null;
  const grip = document.querySelector(".grip[name='legs.0.preload_mm.grip']");
  const number = () => Number(grip.getAttribute("aria-valuenow"));
  window.fetch = async (path, options) => {
    const response = await ask(path, options);
    if (String(path).endsWith("/follow/")) answered = JSON.parse(options.body).values["legs.0.preload_mm"];
    return response;
  };
  let before = number();
  addEventListener("pointermove", (event) => {
    const value = number();
    if (value !== before) seen.events.push({ value, at: event.timeStamp });
    before = value;
  });
  const painted = new MessageChannel();
  const waiting = [];
  painted.port1.onmessage = () => {
    for (const value of waiting.splice(0)) seen.frames.push({ value, at: performance.now() });
  };
  new MutationObserver(() => {
    if (answered === null) return;
    const value = answered;
    answered = null;
    requestAnimationFrame(() => {
      waiting.push(value);
      painted.port2.postMessage(null);
    });
  }).observe(document.querySelector(".in-hand .picture-frame"), { subtree: true, childList: true, attributes: true });
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


def dragged(page: Page) -> dict[str, list[dict[str, float]]]:
    """Drag the preload's handle up and down, one pointer event a frame, and return what the page saw."""
    grip = page.locator(".grip[name='legs.0.preload_mm.grip']")
    grip.wait_for()
    box = grip.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for sweep in range(SWEEPS):
        for step in range(STEPS):
            part = step / STEPS if sweep % 2 == 0 else 1 - step / STEPS
            page.mouse.move(x, y - 120 * part)
            page.wait_for_timeout(FRAME_MS)
    seen: dict[str, list[dict[str, float]]] = {}
    for _ in range(PATIENCE):
        page.wait_for_timeout(200)
        seen = dict(page.evaluate("() => window.seen"))
        if seen["frames"] and seen["frames"][-1]["value"] == seen["events"][-1]["value"]:
            break
    page.mouse.up()
    return seen


def waits(seen: dict[str, list[dict[str, float]]]) -> tuple[list[float], list[float]]:
    """Return how long each event waited for its value or a newer one, and each asked value for its own frame, ms."""
    events, frames = seen["events"], seen["frames"]
    shown_by: list[tuple[int, float]] = []  # which event a frame shows, and when
    first = 0
    for frame in frames:
        found = [at for at in range(first, len(events)) if events[at]["at"] <= frame["at"]]
        same = [at for at in found if events[at]["value"] == frame["value"]]
        if same:
            first = same[-1]
            shown_by.append((first, frame["at"]))
    follow = [
        min((when for shown, when in shown_by if shown >= at), default=float("inf")) - event["at"]
        for at, event in enumerate(events)
    ]
    asked = [when - events[at]["at"] for at, when in shown_by]
    return follow, asked


def spread(name: str, took: list[float]) -> dict[str, float]:
    """Return the median and the 95th percentile of times in ms."""
    return {
        f"{name}_median_ms": round(statistics.median(took), 1),
        f"{name}_p95_ms": round(statistics.quantiles(took, n=20)[18], 1),
        f"{name}_count": len(took),
    }


def measure(base: str, session: str, card: int) -> dict[str, Any]:
    """Open the card in a slowed browser, drag, and return the figures of one round."""
    with sync_playwright() as player:
        args = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"]
        browser = player.chromium.launch(executable_path=str(CHROMIUM), args=args)
        context = browser.new_context(viewport={"width": TABLET["width"], "height": TABLET["height"]}, locale="en-GB")
        context.add_cookies([{"name": "sessionid", "value": session, "url": base, "sameSite": "Strict"}])
        page = context.new_page()
        page.set_default_timeout(60_000)
        page.goto(f"{base}/#/cards/{card}/chosen")
        page.locator(".grip").first.wait_for()
        page.locator(".spring-row").first.wait_for()
        page.wait_for_timeout(2_000)
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        empty = page.evaluate(EMPTY, EMPTY_ROUNDS)
        page.evaluate(WATCH)
        follow, asked = waits(dragged(page))
        browser.close()
    return {
        "bench": "drag",
        "slowed": SLOWED,
        **spread("follow", follow),
        **spread("asked", asked),
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
