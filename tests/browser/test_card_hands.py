"""Gloves, haste and patchy wifi: double touches, a dropped network in the middle of a deed, a small screen."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from setups import cautions
from setups.models import CautionRead, PartLine, Reading, SealedRecord, Setting, TorqueLine
from setups.verbs.cards import open_card
from shops.access import everywhere
from shops.trail import Actor
from tests.factories import BikeFactory, CustomerFactory, RiderFactory, StockSpringFactory, ToolFactory
from tests.setups.record import conftest as invented_record

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"width": 390, "height": 844}
PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
CLIPPED = """() => [...document.querySelectorAll("input[inputmode=decimal]")]
  .filter((each) => each.checkVisibility() && each.scrollWidth > each.clientWidth)
  .map((each) => `${each.name}: ${each.value}`)"""

make_ready_card = invented_record.make_ready_card


@pytest.fixture
def card(shop, technician):
    """Return a card with everything on it that the axle scales and the shelf give, its cautions read."""
    customer = CustomerFactory(business=shop.business, name="Tamsin Quarrel")
    rider = RiderFactory(customer=customer)
    bike = BikeFactory(business=shop.business, owner=customer)
    card = open_card(Actor(technician, None), bike=bike, customer=customer, rider=rider, complaint="Dives.")
    for end, alone, with_rider in (("front", 58, 90), ("rear", 57, 112)):
        for quantity, value in (("axle_alone_kg", alone), ("axle_rider_kg", with_rider)):
            Reading.objects.create(
                card=card, stage="received", end=end, quantity=quantity, value=value, taken_by=technician
            )
    for rate in (4.4, 4.6, 4.8):
        StockSpringFactory(shop=shop, sort_rate_n_per_mm=rate)
    for one in cautions.applying(card):
        CautionRead.objects.create(card=card, key=one.key, read_by=technician)
    return card


@pytest.fixture
def patient(page):
    page.set_default_timeout(PATIENCE_MS)
    return page


def count(model, **which):
    return everywhere(model, why="what a test left behind").filter(**which).count()


def saved(page):
    expect(page.locator(".card-state")).to_have_text("All saved.")


def said(page):
    return page.locator("#state")


def test_a_double_touch_does_a_thing_once(enter, patient, technician, card):
    enter(technician, f"#/cards/{card.pk}/chosen")
    patient.locator(".spring-row .fit").first.dblclick()
    expect(patient.locator(".fit[aria-pressed=true]")).to_have_count(1)
    enter(technician, f"#/cards/{card.pk}/built")
    lines = count(TorqueLine, card=card)
    patient.get_by_role("button", name="Start from what was chosen").dblclick()
    expect(patient.get_by_role("textbox", name="Air gap as built")).to_be_visible()
    for name, rows in (("Add a part", ".part-place li"), ("Add a line", ".torques li")):
        before = patient.locator(rows).count()
        patient.get_by_role("button", name=name).dblclick()
        expect(patient.locator(rows)).to_have_count(before + 1)
    saved(patient)
    assert count(TorqueLine, card=card) == lines + 1
    assert count(PartLine, card=card) == 1
    assert count(Setting, card=card, stage="chosen") == 1
    assert count(Setting, card=card, stage="built") == 1


def test_a_deed_without_network_is_said_calmly_and_can_be_done_later(enter, patient, technician, card):
    enter(technician, f"#/cards/{card.pk}/chosen")
    expect(patient.locator(".spring-row .fit").first).to_be_visible()
    patient.context.set_offline(True)
    patient.locator(".spring-row .fit").first.click()
    expect(said(patient)).to_contain_text("No network, so this is not done yet: fit")
    expect(patient.locator(".fit[aria-pressed=true]")).to_have_count(0)
    patient.context.set_offline(False)
    patient.locator(".spring-row .fit").first.click()
    expect(patient.locator(".fit[aria-pressed=true]")).to_have_count(1)


def test_a_seal_without_network_seals_nothing_and_a_double_touch_seals_once(
    enter, patient, technician, make_ready_card
):
    card = make_ready_card()
    enter(technician, f"#/cards/{card.pk}/sealed")
    button = patient.get_by_role("button", name="Seal the record")
    expect(button).to_be_enabled()
    patient.context.set_offline(True)
    button.click()
    expect(said(patient)).to_contain_text("No network, so this is not done yet: seal the card")
    patient.context.set_offline(False)
    button.dblclick()
    expect(patient.locator(".record-number")).to_be_visible()
    assert count(SealedRecord) == 1


def test_lines_added_and_removed_are_taken_back(enter, patient, technician, card):
    enter(technician, f"#/cards/{card.pk}/built")
    undo = patient.get_by_role("button", name=re.compile("^Undo"))
    parts = patient.locator(".part-place li.line")
    patient.get_by_role("button", name="Add a part", exact=True).click()
    expect(parts).to_have_count(1)
    undo.click()
    expect(parts).to_have_count(0)
    lines = patient.locator(".torques li.line")
    before = lines.count()
    lines.last.locator("summary").click()
    lines.last.get_by_role("button", name="Remove").click()
    patient.get_by_role("dialog").get_by_role("button", name="This bike has none").click()
    expect(lines).to_have_count(before - 1)
    undo.click()
    expect(lines).to_have_count(before)


def test_what_is_refused_is_said_in_sight_however_far_the_page_is_scrolled(enter, patient, technician, card, shop):
    ToolFactory(shop=shop)
    enter(technician, f"#/cards/{card.pk}/built")
    line = patient.locator(".torques li.line").last
    line.locator("summary").click()
    line.get_by_role("button", name="Tightened").click()
    expect(said(patient)).not_to_be_empty()
    expect(said(patient)).to_be_in_viewport(ratio=1)
    patient.get_by_role("button", name="Close", exact=True).click()
    expect(said(patient)).not_to_be_visible()


def test_the_way_back_in_the_middle_of_typing_loses_nothing(enter, patient, technician, card):
    enter(technician, "#/cards")
    patient.evaluate("id => { location.hash = `#/cards/${id}/measured` }", card.pk)
    entry = patient.get_by_role("textbox", name="Front: Wheel free", exact=True)
    entry.fill("612")
    patient.go_back()
    expect(patient.get_by_role("heading", name="Job cards")).to_be_visible()
    patient.go_forward()
    expect(entry).to_have_value("612")
    saved(patient)
    assert count(Reading, card=card, quantity="wheel_free_mm", end="front", value=612) == 1


def test_a_card_left_and_opened_again_waits_for_what_was_typed_on_it(enter, patient, technician, card):
    """The answer that shows the card must not be older than the reading that is still on its way."""
    enter(technician, "#/cards")
    patient.evaluate("id => { location.hash = `#/cards/${id}/measured` }", card.pk)
    entry = patient.get_by_role("textbox", name="Front: Wheel free", exact=True)
    entry.fill("612")
    posts, cards = [], []

    def hold(route):
        posts.append(route)

    patient.route("**/readings/", hold)
    patient.route(f"**/api/cards/{card.pk}/", lambda route: cards.append((route, route.fetch())))
    patient.go_back()
    expect(patient.get_by_role("heading", name="Job cards")).to_be_visible()
    patient.go_forward()
    patient.wait_for_timeout(1000)
    for route in posts:
        route.continue_()
    patient.wait_for_timeout(1000)
    patient.unroute(f"**/api/cards/{card.pk}/")
    for route, answer in cards:
        route.fulfill(response=answer)
    expect(entry).to_have_value("612")
    saved(patient)
    expect(entry).to_have_value("612")


def test_a_number_is_never_cut_off(enter, patient, technician, card):
    enter(technician, f"#/cards/{card.pk}/measured")
    entry = patient.get_by_role("textbox", name="Rear: Wheel free", exact=True)
    for size in (PHONE, {"width": 820, "height": 1180}, {"width": 1440, "height": 900}):
        patient.set_viewport_size(size)
        entry.fill("1112.5")
        assert patient.evaluate(CLIPPED) == [], size
    entry.press("Tab")
    saved(patient)
    for step in ("received", "chosen", "built"):
        patient.evaluate("address => { location.hash = address }", f"#/cards/{card.pk}/{step}")
        expect(patient.locator(f".card-step[data-step={step}]")).to_be_visible()
        for size in (PHONE, {"width": 820, "height": 1180}, {"width": 1440, "height": 900}):
            patient.set_viewport_size(size)
            for entry in patient.locator(".entry input:visible:enabled").all()[:8]:
                entry.evaluate("(each) => { each.value = '114.2' }")
            assert patient.evaluate(CLIPPED) == [], (step, size)


def test_on_a_phone_the_step_in_hand_and_the_end_of_each_entry_are_in_sight(enter, patient, technician, card):
    patient.set_viewport_size(PHONE)
    enter(technician, f"#/cards/{card.pk}/sealed")
    expect(patient.locator("#to-sealed")).to_be_in_viewport(ratio=1)
    patient.evaluate("address => { location.hash = address }", f"#/cards/{card.pk}/measured")
    patient.get_by_role("textbox", name="Rear: With rider, from below", exact=True).focus()
    expect(patient.locator(".panel[data-end=rear] .figures")).to_be_in_viewport(ratio=1)
    expect(patient.locator(".panel[data-end=rear] svg")).to_be_in_viewport(ratio=1)
    named = patient.locator(".readings tbody td").first.evaluate("(each) => getComputedStyle(each, '::before').content")
    assert named == '"Front"'
