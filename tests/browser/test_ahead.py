"""Looks ahead on the card: unfolded they answer, load cases typed there are kept, and everybody can use them."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from setups.models import JobCard
from shops.access import everywhere
from tests.browser import test_card_hands

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
    looks.get_by_text("Pillion and luggage", exact=True).click()
    looks.get_by_role("button", name="Add a pillion").click()
    expect(looks.get_by_role("rowheader", name="pillion")).to_be_visible()
    kept = everywhere(JobCard, why="this test").get(pk=card.pk).cases
    assert [(one["label"], one["mass_kg"], one["rear_share"]) for one in kept] == [("pillion", 75, 0.8)]
    looks.get_by_text("Attitude, braking and drive", exact=True).click()
    expect(looks.get_by_role("link", name="Enter it with the bike")).to_be_visible()
