"""Entering what needs more than one number: a spring on the tester, a linkage, loads three ways, a wanted gap;
and the currency of the estimates."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from setups.bodies import received_body
from setups.models import Bike, Reading, Setting
from setups.verbs.kinds import start_kinds
from shops.access import everywhere
from shops.models import StockSpring
from tests.factories import JobCardFactory, ReadingFactory, SettingFactory, StockSpringFactory, front_data, rear_data
from tests.setups.test_bike_entries import LINKAGE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def card(shop):
    start_kinds(shop.business)
    card = JobCardFactory(shop=shop, bike__rear={**rear_data(), "wheel_travel_mm": 140, "adjuster_mm": None})
    for end, data in (("front", front_data()), ("rear", {**rear_data(), "wheel_travel_mm": 140})):
        SettingFactory(card=card, stage="received", end=end, body=received_body(data, end))
    return card


def fill(table, rows):
    """Type `rows` into a table of cells, Enter going from one to the next and making a new row at the end."""
    table.locator("tbody input").first.click()
    page = table.page
    for value in (value for row in rows for value in row):
        page.keyboard.press("ControlOrMeta+a")
        page.keyboard.type(str(value))
        page.keyboard.press("Enter")


def test_a_spring_is_entered_by_its_tester_readings(enter, technician, card, seen_by_all):
    page = enter(technician, f"#/cards/{card.pk}/received")
    page.get_by_role("radio", name="Rear", exact=True).check()
    page.get_by_role("radio", name="tested", exact=True).check()
    stamp = page.get_by_role("textbox", name="Rate stamped on it", exact=True)
    expect(stamp).to_have_value("52")
    table = page.get_by_role("group", name="Tester readings")
    fill(table, [(10, 500), (20, 450)])
    expect(page.get_by_text("2 of at least 3 readings.")).to_be_visible()
    fill(table, [(10, 500), (20, 450), (30, 1500)])
    # The sentence stands in the table, and the cell that it means is marked.
    expect(table).to_contain_text("Reading 2 is 450 N, not above the one before it")
    expect(table.get_by_label("row 2, Force")).to_have_attribute("aria-invalid", "true")
    assert everywhere(Setting, why="this test").get(end="rear").body["spring"]["kind"] == "straight"
    table.get_by_label("row 2, Force").fill("1000")
    expect(page.get_by_text("Tested: straight, 50 ±")).to_be_visible()
    expect(page.get_by_text("3.8 % below the stamp of 52 N/mm: within the usual ±5 %")).to_be_visible()
    expect(page.get_by_text("All saved.")).to_be_visible()
    body = everywhere(Setting, why="this test").get(end="rear").body
    assert body["spring"] == {
        "kind": "tested", "deflection_mm": [10, 20, 30], "force_n": [500, 1000, 1500], "stamped_n_per_mm": 52,
    }  # fmt: skip
    assert body["sources"]["spring"]["from"] == "measured"
    seen_by_all()


def test_a_linkage_is_entered_point_by_point(enter, technician, card, seen_by_all):
    page = enter(technician, f"#/bikes/{card.bike_id}")
    rear = page.locator("section.sheet", has=page.get_by_role("heading", name="Rear", exact=True))
    rear.get_by_role("button", name="Change", exact=True).click()
    rear.get_by_role("radio", name="linkage points").check()
    frame, rocker = (rear.get_by_role("group", name=name) for name in ("Points of swingarm", "Points of rocker"))
    fill(frame, [LINKAGE[key] for key in ("pivot_mm", "axle_mm", "shock_top_mm", "shock_foot_mm")])
    points = [LINKAGE["rocker"][key] for key in ("pivot_mm", "rod_near_mm")]
    fill(rocker, [*points, points[-1]])
    expect(rocker).to_contain_text("The rod has no length")
    fill(rocker, [*points, LINKAGE["rocker"]["rod_far_mm"]])
    expect(rear.get_by_text("Reaches 0 to 153 mm of wheel travel")).to_be_visible()
    seen_by_all()
    rear.get_by_role("button", name="Save").click()
    expect(rear.get_by_text("linkage of 7 points")).to_be_visible()
    assert everywhere(Bike, why="this test").get().rear["leverage"] == LINKAGE


def test_noisy_pairs_are_smoothed_only_when_the_person_says_so(enter, technician, card):
    page = enter(technician, f"#/bikes/{card.bike_id}")
    rear = page.locator("section.sheet", has=page.get_by_role("heading", name="Rear", exact=True))
    rear.get_by_role("button", name="Change", exact=True).click()
    rear.get_by_role("radio", name="measured pairs").check()
    read = [(0, 0), (30, 10.2), (60, 19.8), (90, 30.4), (120, 39.7), (150, 50.1)]
    fill(rear.get_by_role("group", name="Wheel travel and shock stroke"), read)
    rear.get_by_text("Smooth noisy readings").click()
    rear.get_by_role("button", name="Smooth", exact=True).click()
    expect(rear.get_by_role("table", name="Smoothed, with its standard uncertainty")).to_contain_text("±")
    expect(rear.get_by_label("row 2, Shock")).to_have_value("10.2")
    rear.get_by_role("button", name="Use the smoothed table").click()
    rear.get_by_role("button", name="Save").click()
    expect(rear.get_by_text("smoothed from 6 measured pairs")).to_be_visible()
    kept = everywhere(Bike, why="this test").get().rear["leverage"]
    assert [list(pair) for pair in zip(kept["readings"]["wheel_mm"], kept["readings"]["shock_mm"], strict=True)] == [
        list(pair) for pair in read
    ]
    assert len(kept["wheel_mm"]) > len(read)


def test_loads_are_told_three_ways_and_one_is_taken(enter, technician, card, seen_by_all):
    free = 640
    for quantity, value in (
        ("wheel_free_mm", free), ("alone_from_above_mm", free - 12), ("alone_from_below_mm", free - 14),
        ("rider_from_above_mm", free - 40), ("rider_from_below_mm", free - 44),
    ):  # fmt: skip
        ReadingFactory(card=card, stage="received", end="rear", quantity=quantity, value=value)
    for quantity, value in (("axle_alone_kg", 58), ("axle_rider_kg", 190)):
        ReadingFactory(card=card, stage="received", end="front", quantity=quantity, value=value)
    page = enter(technician, f"#/cards/{card.pk}/measured")
    page.get_by_text("Axle loads", exact=True).click()
    # 190 kg on the front axle and what a share of the rider's mass makes of it: no uncertainty spans that.
    expect(page.get_by_text("cannot both be right, whatever the uncertainties")).to_be_visible()
    expect(page.get_by_text("What alone would explain it")).to_be_visible()
    seen_by_all()
    page.get_by_role("button", name=re.compile("Use this way.*Rear: Sags and known springs")).click()
    expect(page.get_by_label("Rear: Axle load, bike alone", exact=True)).not_to_have_value("")
    taken = everywhere(Reading, why="this test").filter(end="rear", quantity="axle_rider_kg").get()
    assert taken.origin == "assumed"


def test_a_technician_keeps_a_test_with_the_spring_list(enter, technician, shop, seen_by_all):
    spring = {"kind": "straight", "rate_n_per_mm": 4.4}
    line = StockSpringFactory(shop=shop, code="F-44", end="front", spring=spring, sort_rate_n_per_mm=4.4)
    page = enter(technician, "#/springs")
    page.get_by_role("button", name="F-44").click()
    fill(page.get_by_role("group", name="Tester readings"), [(50, 206), (100, 412), (150, 618)])
    expect(page.get_by_text("6.4 % below the stamp of 4.4 N/mm: outside the usual ±5 %")).to_be_visible()
    seen_by_all()
    page.get_by_role("button", name="Keep the test").click()
    expect(page.get_by_role("button", name="F-44")).to_contain_text("tested 4.12")
    assert everywhere(StockSpring, why="this test").get(pk=line.pk).tested["force_n"] == [206, 412, 618]


def test_the_gap_for_a_wanted_force_is_tried_on_the_chosen_setting(enter, technician, card):
    for quantity, value in (("axle_alone_kg", 58), ("axle_rider_kg", 88)):
        ReadingFactory(card=card, stage="received", end="front", quantity=quantity, value=value)
    page = enter(technician, f"#/cards/{card.pk}/chosen")
    page.get_by_text("Air gap for a wanted force").click()
    page.get_by_role("textbox", name="Air force wanted, each leg", exact=True).fill("2000")
    # By hand: A = π/4 48² = 1809.56 mm², p = p0 + 2000 N/A, ratio = (p/p0)^(1/1.4) = 5.8675; the end volume is
    # A 300 mm/(ratio − 1) = 111.53 cm³, with 70 cm³ of solids 181.53 cm³ over the bore's 1385.4 mm²: 131.0 mm.
    expect(page.get_by_text("Set an air gap of 131 mm")).to_be_visible()
    page.get_by_role("button", name="Try this gap").click()
    expect(page.get_by_role("textbox", name="Air gap", exact=True).first).to_have_value("131")


def test_legs_that_differ_get_each_their_own_gap(enter, technician, card, seen_by_all):
    # As above, 111.53 cm³ of air at the stop; the empty leg has 20 cm³ of solids: 131.53 cm³/1385.4 mm² = 94.9 mm.
    # Oil is A_bore times the gap's change: 1385.4 (131.0 − 110)/1000 = 29 cm³ out, 1385.4 (110 − 94.9)/1000 = 21 in.
    for setting in everywhere(Setting, why="this test").filter(card=card, end="front"):
        left, right = setting.body["legs"]
        assert (left["air_gap_mm"], left["solids_cm3"], right["air_gap_mm"]) == (110, 70, 110)
        right |= {"spring": None, "preload_mm": 0, "solids_cm3": 20}
        setting.save()
    for quantity, value in (("axle_alone_kg", 58), ("axle_rider_kg", 73)):
        ReadingFactory(card=card, stage="received", end="front", quantity=quantity, value=value)
    page = enter(technician, f"#/cards/{card.pk}/chosen")
    page.get_by_text("Air gap for a wanted force").click()
    page.get_by_role("textbox", name="Air force wanted, each leg", exact=True).fill("2000")
    said = page.locator(".gap-says")
    expect(said).to_contain_text("Left leg: set an air gap of 131 mm instead of 110 mm: 29.1 cm³ of oil out of it.")
    expect(said).to_contain_text("Right leg: set an air gap of 95 mm instead of 110 mm: 20.9 cm³ of oil into it.")
    page.get_by_role("button", name="Try these gaps").click()
    left = page.get_by_role("textbox", name="Air gap, left leg", exact=True)
    expect(left).to_have_value("131")
    expect(page.get_by_role("textbox", name="Air gap, right leg", exact=True)).to_have_value("95")
    seen_by_all()
    left.fill("95")
    expect(left).to_be_focused()
    left.fill("128")
    left.blur()
    expect(page.get_by_text("All saved.")).to_be_visible()
    kept = everywhere(Setting, why="this test").get(card=card, stage="chosen", end="front").body["legs"]
    assert [leg["air_gap_mm"] for leg in kept] == [128, 95]


def test_an_owner_chooses_the_currency_of_the_estimates(enter, owner, seen_by_all):
    page = enter(owner, "#/business?part=shops")
    expect(page.get_by_text("Estimates are in EUR.")).to_be_visible()
    page.get_by_role("button", name="Change the currency").click()
    code = page.get_by_role("textbox", name="Currency", exact=True)
    code.fill("e1")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("E1 is no currency's code")).to_be_visible()
    seen_by_all()
    code.fill("chf")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Estimates are in CHF.")).to_be_visible()
    owner.business.refresh_from_db()
    assert owner.business.currency == "CHF"


def test_others_read_the_currency(enter, technician):
    page = enter(technician, "#/business?part=shops")
    expect(page.get_by_text("Estimates are in EUR.")).to_be_visible()
    expect(page.get_by_role("button", name="Change the currency")).to_have_count(0)
