"""The estimate: written on the tablet, approved by the customer on a phone, seen on the tablet."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from setups.approval_models import EstimateAsk
from shops.access import everywhere
from tests.browser.devices import PHONE
from tests.factories import EstimateFactory, JobCardFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PATIENCE_MS = 30_000


@pytest.fixture
def card(shop):
    return JobCardFactory(shop=shop)


def test_the_customer_approves_on_a_phone_what_was_written_on_the_tablet(
    page, enter, live_server, technician, card, seen_by_all
):
    page.set_default_timeout(PATIENCE_MS)
    enter(technician, f"#/cards/{card.pk}/chosen")
    page.locator(".estimate-place > summary").click()
    page.get_by_role("button", name="Add a line").click()
    page.get_by_label("What for").fill("Fork service, both legs")
    page.get_by_label("Amount", exact=True).fill("180,50")
    page.get_by_label("Work waits for the customer’s approval").check()
    page.get_by_role("button", name="Save the estimate").click()
    expect(page.locator(".estimate-place > summary")).to_contain_text("180.50 EUR")
    page.get_by_role("button", name="Make the customer’s link").click()
    link = page.locator("#estimate-url").input_value()
    assert "/record#e." in link

    page.set_viewport_size(PHONE)
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(link)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Estimate for Brackwater")
    expect(page.locator("main")).to_contain_text("180.50 EUR")
    seen_by_all()
    page.get_by_role("button", name="Approve 180.50 EUR").click()
    expect(page.locator("main")).to_contain_text("You approved this on")
    assert not any(link.rpartition(".")[2] in address for address in asked)
    assert everywhere(EstimateAsk, why="this test").get().answer == "approved"

    page.goto("about:blank")
    page.goto(f"{live_server.url}/#/cards/{card.pk}/chosen")
    expect(page.locator(".estimate-place > summary")).to_contain_text("The customer approved it as it stands.")


def test_declining_is_asked_twice(page, live_server, client_for, technician, card):
    page.set_default_timeout(PATIENCE_MS)
    EstimateFactory(card=card)
    url = client_for(technician).post(f"/api/cards/{card.pk}/estimate/asks/", {}).json()["url"]
    page.goto(f"{live_server.url}{url}")
    page.get_by_role("button", name="Decline").click()
    expect(page.locator("main")).to_contain_text("Press once more to decline.")
    assert everywhere(EstimateAsk, why="this test").get().answer == ""
    page.get_by_role("button", name="Yes, decline").click()
    expect(page.locator("main")).to_contain_text("You declined this on")
