"""Every step of a card can be used by everybody: axe-core, gloves, light and dark, phone, keyboard."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from setups.verbs.cards import open_card
from setups.verbs.readings import take_readings
from shops.trail import Actor
from tests.browser.devices import PHONE, TABLET
from tests.factories import BikeFactory, CustomerFactory, RiderFactory, StockSpringFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
STEPS = {
    "received": "As received", "measured": "Measured", "chosen": "Chosen", "built": "Built",
    "remeasured": "Measured again", "handed_over": "Handed over", "sealed": "Sealed",
}  # fmt: skip


@pytest.fixture
def card(shop, technician):
    """Return a card whose bike was weighed and measured, so that pictures and a ranked list are in sight."""
    customer = CustomerFactory(business=shop.business, name="Tamsin Quarrel")
    bike = BikeFactory(business=shop.business, owner=customer)
    actor = Actor(technician, None)
    rider = RiderFactory(customer=customer)
    card = open_card(actor, bike=bike, customer=customer, rider=rider, complaint="Dives.")
    for rate in (4.2, 4.6, 5.0):
        StockSpringFactory(shop=shop, sort_rate_n_per_mm=rate)
    lengths = {"wheel_free_mm": 612, "alone_from_above_mm": 588, "alone_from_below_mm": 582}
    loads = {"axle_alone_kg": 58, "axle_rider_kg": 90}
    taken = [
        {"stage": "received", "end": "front", "quantity": name, "value": value, "instrument": ""}
        for name, value in (lengths | loads).items()
    ]
    take_readings(actor, card, taken)
    return card


@pytest.mark.parametrize("step", STEPS)
def test_a_step_can_be_used_by_everybody(enter, page, technician, card, seen_by_all, step):
    page.set_default_timeout(PATIENCE_MS)
    enter(technician, f"#/cards/{card.pk}/{step}")
    expect(page.get_by_role("heading", name=STEPS[step], exact=True)).to_be_visible()
    page.wait_for_load_state("networkidle")
    seen_by_all()


def test_text_twice_as_large_still_fits(enter, page, technician, card):
    """A page zoomed to 200 % is a page of half the width (WCAG 2.2, success criteria 1.4.4 and 1.4.10)."""
    page.set_default_timeout(PATIENCE_MS)
    page.set_viewport_size({"width": TABLET["width"] // 2, "height": TABLET["height"] // 2})
    enter(technician, f"#/cards/{card.pk}/measured")
    for step, name in STEPS.items():
        page.evaluate(f"location.hash = '#/cards/{card.pk}/{step}'")
        expect(page.get_by_role("heading", name=name, exact=True)).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"] // 2, step


def test_the_picture_is_in_sight_while_a_number_changes_it(enter, page, technician, card):
    page.set_default_timeout(PATIENCE_MS)
    enter(technician, f"#/cards/{card.pk}/chosen")
    expect(page.locator(".spring-row").first).to_be_visible()
    for size in (TABLET, PHONE):
        page.set_viewport_size(size)
        more = page.get_by_role("textbox", name="Air gap", exact=True)
        more.blur()
        more.focus()
        expect(more).to_be_in_viewport(ratio=1)
        expect(page.locator(".panel.in-hand svg")).to_be_in_viewport(ratio=1)
        picture, entry = page.locator(".panel.in-hand svg").bounding_box(), more.bounding_box()
        assert picture["y"] + picture["height"] <= entry["y"], "the picture lies over the field"


def test_the_keyboard_alone_reaches_a_number_and_steps_it(enter, page, technician, card):
    page.set_default_timeout(PATIENCE_MS)
    enter(technician, f"#/cards/{card.pk}/chosen")
    entry = page.get_by_role("textbox", name="Preload", exact=True)
    expect(entry).to_have_value("10")
    expect(page.locator(".spring-row").first).to_be_visible()
    for _ in range(60):
        page.keyboard.press("Tab")
        if entry.evaluate("(each) => each === document.activeElement"):
            break
    page.keyboard.press("ArrowUp")
    expect(entry).not_to_have_value("10")
    expect(page.get_by_role("button", name="Undo: ")).to_be_visible()


def test_a_sister_shop_reads_both_ends_and_changes_nothing(enter, page, sister_technician, card):
    page.set_default_timeout(PATIENCE_MS)
    enter(sister_technician, f"#/cards/{card.pk}/received")
    expect(page.get_by_text("This card belongs to Harbour Yard: you may read it.")).to_be_visible()
    page.get_by_role("radio", name="Rear", exact=True).check()
    rate = page.get_by_role("textbox", name="Rate", exact=True)
    expect(rate).to_have_value("52")
    expect(rate).to_be_disabled()
    expect(page.get_by_role("textbox", name="Complaint")).to_be_disabled()


def test_a_sentence_in_the_place_of_the_sags_leaves_the_picture_its_room(page, enter, technician, card):
    """As while a value is refused: the last picture stays, and what is lacking is said beside it."""
    enter(technician, f"#/cards/{card.pk}/chosen")
    plot = page.locator(".in-hand .picture-plot")
    expect(plot.locator("svg")).to_be_visible()
    before = plot.bounding_box()["width"]
    told = "For the picture: " + "load of the bike alone at the front axle; " * 4
    page.locator(".in-hand .figures").evaluate(
        """(figures, told) => {
          const said = document.createElement("p");
          said.className = "lacks";
          said.textContent = told;
          figures.replaceChildren(said);
        }""",
        told,
    )
    assert plot.bounding_box()["width"] > 0.7 * before
