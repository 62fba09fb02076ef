"""The picture under the hand: dragged by mouse and finger, turned by keys, without network, and taken back."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from setups.models import Setting
from setups.verbs.cards import open_card
from setups.verbs.readings import take_readings
from shops.access import everywhere
from shops.trail import Actor
from tests.factories import BikeFactory, CustomerFactory, RiderFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
PX_PER_STEP = 5
FIRST_MM = 10
"""The preload that the factories' fork comes in with."""


@pytest.fixture
def card(shop, technician):
    customer = CustomerFactory(business=shop.business, name="Tamsin Quarrel")
    bike = BikeFactory(business=shop.business, owner=customer)
    actor = Actor(technician, None)
    card = open_card(actor, bike=bike, customer=customer, rider=RiderFactory(customer=customer), complaint="Dives.")
    loads = {"axle_alone_kg": 58, "axle_rider_kg": 90}
    taken = [
        {"stage": "received", "end": "front", "quantity": name, "value": value, "instrument": ""}
        for name, value in loads.items()
    ]
    take_readings(actor, card, taken)
    return card


@pytest.fixture
def opened(enter, page, technician, card):
    page.set_default_timeout(PATIENCE_MS)
    # What a drag rests on has come before the hand does.
    with page.expect_response(re.compile("/preview/")):
        enter(technician, f"#/cards/{card.pk}/chosen")
    expect(grip(page)).to_be_visible()
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM} mm")
    return page


def grip(page, name="Preload"):
    return page.locator(".in-hand").get_by_role("slider", name=name, exact=True)


def kept(card):
    found = everywhere(Setting, why="this test").filter(card=card, stage="chosen", end="front").first()
    return found and [leg["preload_mm"] for leg in found.body["legs"]]


def middle(found):
    box = found.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def curve(page):
    return page.locator(".in-hand .pic-trace").last.get_attribute("d")


def settled(page):
    expect(page.locator(".card-state")).to_have_text("All saved.")


def test_by_mouse_the_picture_follows_and_let_go_it_is_an_entry_that_can_be_taken_back(opened, card, seen_by_all):
    page, before = opened, curve(opened)
    verdict = page.locator(".in-hand .verdict").text_content()
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 4 * PX_PER_STEP, steps=4)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 2} mm")
    expect(page.locator(".in-hand .verdict")).not_to_have_text(verdict)
    assert curve(page) != before
    assert kept(card) is None, "nothing is entered while it is only tried"
    page.mouse.up()
    undo = page.get_by_role("button", name="Undo: front, chosen")
    expect(undo).to_be_visible()
    settled(page)
    assert kept(card) == [FIRST_MM + 2] * 2
    expect(page.get_by_role("textbox", name="Preload", exact=True)).to_have_value(str(FIRST_MM + 2))
    seen_by_all()
    undo.click()
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM} mm")
    assert kept(card) == [FIRST_MM] * 2


def test_by_finger(opened, card):
    page = opened
    x, y = middle(grip(page))
    touch = page.context.new_cdp_session(page)

    def send(kind, *points):
        at = [{"x": x, "y": y + far} for far in points]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})

    send("touchStart", 0)
    for steps in (1, 2, 3, 4):
        send("touchMove", steps * PX_PER_STEP)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM - 2} mm")
    send("touchEnd")
    expect(page.get_by_role("button", name="Undo: front, chosen")).to_be_visible()
    settled(page)
    assert kept(card) == [FIRST_MM - 2] * 2


@pytest.mark.parametrize(
    ("name", "key", "said"),
    [("Preload", "ArrowUp", "10.5 mm"), ("Rate", "ArrowDown", "4.5 N/mm"), ("Air gap", "PageUp", "115 mm")],
)
def test_by_keyboard_in_the_steps_of_the_trade(opened, card, name, key, said):
    page, before = opened, curve(opened)
    grip(page, name).focus()
    page.keyboard.press(key)
    expect(grip(page, name)).to_have_attribute("aria-valuetext", said)
    expect(grip(page, name)).to_be_focused()
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Undo: front, chosen")).to_be_visible()
    settled(page)
    assert curve(page) != before


def test_without_network_the_picture_stays_marked_no_verdict_is_given_and_the_value_is_kept(opened, card):
    page, before = opened, curve(opened)
    page.context.set_offline(True)
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 2 * PX_PER_STEP, steps=2)
    expect(page.locator(".in-hand .picture-state")).to_contain_text("not recalculated")
    expect(page.locator(".in-hand .verdict")).to_have_text("No network: not recalculated.")
    assert curve(page) == before
    page.mouse.up()
    expect(page.locator(".card-state")).to_contain_text("kept on this device")
    assert kept(card) is None
    page.context.set_offline(False)
    settled(page)
    assert kept(card) == [FIRST_MM + 1] * 2
    expect(page.locator(".in-hand .picture")).not_to_have_class(re.compile("stale"))


def test_one_question_is_on_its_way_and_the_newest_is_what_stands(opened):
    page = opened
    asked, held = [], []

    def hold(route):
        asked.append(route.request.post_data_json["values"]["legs.0.preload_mm"])
        held.append(route)

    page.route("**/api/follow/", hold)
    x, y = middle(grip(page))
    page.mouse.move(x, y)
    page.mouse.down()
    for steps in range(1, 9):
        page.mouse.move(x, y - steps * PX_PER_STEP)
    expect(grip(page)).to_have_attribute("aria-valuetext", f"{FIRST_MM + 4} mm")
    page.wait_for_timeout(300)
    assert len(asked) == 1, "a second question left before the first was answered"
    held.pop().continue_()
    with page.expect_request("**/api/follow/"):
        pass
    page.wait_for_timeout(300)
    assert len(asked) == 2
    assert asked[1] == FIRST_MM + 4, "what was overtaken is not asked"
    with page.expect_response("**/api/follow/") as last:
        held.pop().continue_()
    sag = last.value.json()["result"]["rider_sag_mm"]
    expect(page.locator("[id^=sag-front-rider] b")).to_have_text(f"{sag:.0f}")
    page.mouse.up()
