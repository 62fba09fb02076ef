"""Every screen opens on the demo's data: no page error, nothing wider than the screen.

With COILBOOK_SCREENS=folder each is also photographed there, at three sizes, light and dark.
"""

from __future__ import annotations

import os
import re
from datetime import date
from pathlib import Path

import pytest

from setups.demo.builder import build
from setups.models import Bike, Customer, JobCard
from shops.access import everywhere
from shops.models import Person

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PATIENCE_MS = 60_000
SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desk": (1440, 900)}
STEPS = ("received", "measured", "chosen", "built", "remeasured", "handed_over", "sealed")
LISTS = ("cards", "new-card", "bikes", "springs", "business", "audit", "data", "me")
PARTS = ("people", "shops", "tablets", "tools")


def first(model, **which):
    return everywhere(model, why="the demo that this test built").filter(**which).order_by("pk").first()


def addresses():
    """Return each screen's name and address."""
    known = {name: f"#/{name}" for name in LISTS}
    known |= {f"business-{part}": f"#/business?part={part}" for part in PARTS}
    known["bike"] = f"#/bikes/{first(Bike).pk}"
    known["customer"] = f"#/customers/{first(Customer).pk}"
    open_card, built_card = first(JobCard, number="HAR-0005"), first(JobCard, step="handed_over")
    sealed_card = first(JobCard, step="sealed", number__startswith="HAR")
    for step in STEPS:
        known[f"card-{step}"] = f"#/cards/{open_card.pk}/{step}"
    for step in ("built", "remeasured", "handed_over"):
        known[f"worked-{step}"] = f"#/cards/{built_card.pk}/{step}"
    known["sealed-built"] = f"#/cards/{sealed_card.pk}/built"
    known["sealed-sealed"] = f"#/cards/{sealed_card.pk}/sealed"
    return known


def photograph(page, name):
    """Take the page in the folder that the environment names, at every size, light and dark."""
    folder = Path(os.environ["COILBOOK_SCREENS"])
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            page.screenshot(path=folder / f"{name}-{size}-{scheme}.png", full_page=True)
            fits(page, f"{name}, {size}")


def fits(page, name):
    wide = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
    assert wide[0] <= wide[1], f"{name} is wider than its screen"


def look(page, name):
    page.locator("h1").first.wait_for()
    page.wait_for_load_state("networkidle")
    shown = page.locator("main").inner_text()
    wrong = re.search(r"undefined|\bNaN\b|\[object|could not be opened|No connection", shown)
    assert wrong is None, f"{name} shows {wrong and wrong.group()!r}"
    if os.environ.get("COILBOOK_SCREENS"):
        photograph(page, name)
    else:
        fits(page, name)
    unfold(page, name)


def unfold(page, name):
    """Open whatever is folded on the screen in hand and look again."""
    folded = page.locator("main details:not([open]) > summary:visible")
    if not folded.count():
        return
    while folded.count():
        folded.first.click()
    page.wait_for_load_state("networkidle")
    if os.environ.get("COILBOOK_SCREENS"):
        photograph(page, f"{name}-unfolded")
    else:
        fits(page, f"{name}, unfolded")


def test_all_screens_open_and_fit(page, live_server, enter):
    page.set_default_timeout(PATIENCE_MS)
    secret = build(date.today())
    page.goto(f"{live_server.url}/")
    look(page, "sign-in")
    page.goto(f"{live_server.url}/record#{secret}")
    look(page, "record")
    page.goto("about:blank")
    enter(first(Person, email__startswith="maren"))
    for name, address in addresses().items():
        page.goto("about:blank")
        page.goto(f"{live_server.url}/{address}")
        look(page, name)
