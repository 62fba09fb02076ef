"""Looks ahead on the card: unfolded they answer, load cases typed there are kept, and everybody can use them."""

from __future__ import annotations

import math
import re

import pytest
from playwright.sync_api import expect

from setups.models import JobCard
from setups.verbs.settings import fit
from shops.access import everywhere
from shops.trail import Actor
from tests.browser import test_card_hands
from tests.factories import StockSpringFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
card = test_card_hands.card


def test_each_look_answers_when_unfolded_and_a_load_case_is_kept(page, enter, technician, card):
    page.set_default_timeout(60_000)
    expect.set_options(timeout=60_000)
    enter(technician, f"#/cards/{card.pk}/chosen")
    looks = page.locator("section.looks:visible")
    for title, shown in (("Rate or preload", ".look-picture svg"), ("Whom each spring suits", ".look-picture svg")):
        looks.get_by_text(title, exact=True).click()
        expect(looks.locator(f"details.look[open] {shown}").last).to_be_visible()
    expect(looks.locator(".look-picture svg").first).to_contain_text("Preload, mm")
    page.get_by_role("button", name="unit of Preload: change").click()
    expect(looks.locator(".look-picture svg").first).to_contain_text("Preload, in")
    looks.get_by_text("Pillion and luggage", exact=True).click()
    looks.get_by_role("button", name="Add a pillion").click()
    expect(looks.get_by_role("rowheader", name="pillion")).to_be_visible()
    kept = everywhere(JobCard, why="this test").get(pk=card.pk).cases
    assert [(one["label"], one["mass_kg"], one["rear_share"]) for one in kept] == [("pillion", 75, 0.8)]
    looks.get_by_text("Attitude, braking and drive", exact=True).click()
    expect(looks.get_by_role("link", name="Enter it with the bike")).to_be_visible()


def test_a_better_wire_is_filled_from_the_list_told_where_it_lacks_and_corrects_the_gap(page, enter, technician, card):
    """Twice the strength at one index: the stress K·8FD/(πd³) goes as 1/d², so the wire goes down by the root of two
    (Shigley, Mechanical Engineering Design, eq. 10-7, from memory)."""
    line = StockSpringFactory(
        shop=card.shop, wire_mm=4.6, inner_diameter_mm=29.4, outer_diameter_mm=38.6, material="oil tempered, ASTM A229"
    )
    fit(Actor(technician, None), card, "front", line)
    page.set_default_timeout(60_000)
    enter(technician, f"#/cards/{card.pk}/chosen")
    page.locator("section.looks:visible").get_by_text("A better wire", exact=True).click()
    form = page.get_by_role("form", name="A better wire, front")
    expect(form.get_by_label("Present wire", exact=True).locator("option:checked")).to_contain_text("A229")
    expect(form.get_by_label("Mean coil diameter", exact=True)).to_have_value("34")
    form.get_by_label("Active turns", exact=True).fill("24")
    form.get_by_label("Other wire", exact=True).select_option(label="titanium alloy")
    work_out = form.get_by_role("button", name="Work it out")
    work_out.click()
    total = form.get_by_label("Turns in all", exact=True)
    expect(total).to_have_attribute("aria-invalid", "true")
    total.fill("26")
    work_out.click()
    strength = form.get_by_label("Other wire’s tensile strength", exact=True)
    expect(strength).to_be_visible()
    expect(strength).to_have_attribute("aria-invalid", "true")
    strength.fill("2000")
    form.get_by_label("Present wire’s tensile strength", exact=True).fill("1000")
    form.get_by_label("Most force on one spring", exact=True).fill("500")
    form.get_by_label("mean diameter over wire", exact=True).check()
    work_out.click()
    cells = form.locator("tr", has=page.get_by_role("rowheader", name="wire", exact=True)).get_by_role("cell")
    expect(cells).to_have_text(["4.6 mm", f"{4.6 / math.sqrt(2):.2f} mm"])
    said = form.locator(".said").inner_text()
    oil, gap = (
        float(re.search(each, said)[1]) for each in (r"displaces ([\d.]+) cm³ less oil", r"were ([\d.]+) mm larger")
    )
    pour = card.bike.front.get("pour")
    area_mm2 = pour["cm3"] * 1000 / pour["rise_mm"] if pour else math.pi / 4 * card.bike.front["bore_diameter_mm"] ** 2
    assert gap * area_mm2 / 1000 == pytest.approx(oil, abs=0.05 + 0.05 * area_mm2 / 1000)
