"""What earlier cards of a model showed is told on the card, offered with a button, accepted, and taken back."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.factories import PersonFactory, ShopFactory
from tests.setups.test_learned import card_of_model, seen

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def technician(db):
    return PersonFactory(shop=ShopFactory())


def test_a_correction_is_offered_accepted_and_left_out_again(page, enter, technician, seen_by_all):
    card = card_of_model(technician.shop)
    seen(technician.shop, [1.0, 3.0, 5.0])
    enter(technician, f"#/cards/{card.pk}/chosen")
    page.get_by_label("Rear", exact=True).check(force=True)
    told = page.locator(".learned")
    expect(told).to_contain_text("On 3 sealed cards of this model the rear sat 3 mm lower than computed with the rider")
    expect(told).to_contain_text("(spread 2 mm)")
    figure = page.locator(".panel.in-hand .figure").first
    before = figure.inner_text()
    page.get_by_role("button", name="Take it into account").click()
    expect(told).to_contain_text("Computed sags at the rear are corrected by +3 mm with the rider")
    expect(figure).to_contain_text("corrected")
    seen_by_all()
    page.get_by_role("button", name="Leave it out").click()
    expect(told).to_contain_text("Take it into account?")
    expect(figure).to_have_text(re.compile(re.escape(before.split("\n")[-1])))


def test_two_cards_are_told_and_not_offered(page, enter, technician):
    card = card_of_model(technician.shop)
    seen(technician.shop, [3.0, 3.4])
    enter(technician, f"#/cards/{card.pk}/measured")
    expect(page.locator(".learned:not(:empty)")).to_contain_text("Too few to go by.")
    expect(page.get_by_role("button", name="Take it into account")).to_have_count(0)
