"""Opening a job card: few fields, nothing lost, never twice."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from setups.models import Bike, Customer, JobCard
from setups.verbs.kinds import start_kinds
from shops.access import everywhere
from tests.factories import BikeFactory, CustomerFactory, RiderFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def _kinds(business):
    start_kinds(business)


def cards():
    return everywhere(JobCard, why="test").select_related("bike", "customer", "rider")


def open_card(page):
    page.get_by_role("button", name="Open the card").click()


def box(page, label):
    return page.get_by_role("textbox", name=label, exact=True)


def fill_in_all(page):
    """Type a whole new job."""
    page.get_by_role("button", name="New bike").click()
    page.get_by_label("Make").fill("Brackwater")
    page.get_by_label("Model").fill("Heron 3")
    page.locator("label", has_text="enduro").click()
    page.get_by_role("button", name="New customer").click()
    page.get_by_label("Name", exact=True).fill("Tamsin Quarrel")
    page.locator("label", has_text="Enter the rider").click()
    box(page, "Mass in kit").fill("88,5")
    page.get_by_label("What is wrong?").fill("Dives under braking.")


def test_a_new_bike_of_a_new_customer_takes_fewer_than_eight_fields(enter, technician, seen_by_all):
    page = enter(technician, "#/new-card")
    seen_by_all()
    page.evaluate("window.touched = new Set()")
    page.evaluate("addEventListener('input', (event) => touched.add(event.target.name), true)")
    fill_in_all(page)
    assert 0 < page.evaluate("touched.size") < 8
    seen_by_all()
    open_card(page)
    page.wait_for_url("**/#/cards/*")
    card = cards().get()
    assert (card.bike.make, card.bike.kind, card.customer.name) == ("Brackwater", "enduro", "Tamsin Quarrel")
    assert (card.rider.name, card.rider.mass_in_kit_kg) == ("Tamsin Quarrel", 88.5)
    assert card.complaint == "Dives under braking."
    assert card.bike.owner == card.customer
    kept = page.evaluate("Object.keys(localStorage)")
    assert not [key for key in kept if key.endswith(".new-card")], "acknowledged: the tablet forgets it"


@pytest.mark.parametrize("typed", ["ZK 77", "Curlew", "FRAME99", "Ottilie"])
def test_a_known_bike_is_found_by_any_name_and_brings_its_owner_and_rider(enter, technician, business, typed):
    owner = CustomerFactory(business=business, name="Ottilie Marsh")
    rider = RiderFactory(customer=owner)
    bike = BikeFactory(business=business, owner=owner, model="Curlew", plate="ZK 77", frame_number="FRAME99")
    page = enter(technician, "#/new-card")
    page.get_by_label("Which bike?").fill(typed)
    page.get_by_role("button", name="Curlew").click()
    expect(page.get_by_text("owner of this bike")).to_be_visible()
    page.get_by_role("button", name="Bottoms out.").click()
    open_card(page)
    page.wait_for_url("**/#/cards/*")
    card = cards().get()
    assert (card.bike, card.customer, card.rider, card.complaint) == (bike, owner, rider, "Bottoms out.")


def test_a_loose_fork_needs_no_bike(enter, technician, business):
    CustomerFactory(business=business, name="Ottilie Marsh")
    page = enter(technician, "#/new-card")
    page.get_by_role("button", name="Loose fork").click()
    page.get_by_label("What is it?").fill("Grey fork, 48 mm, tape on the left leg")
    page.get_by_label("Whose job is it?").fill("Ottilie")
    page.get_by_role("button", name="Ottilie Marsh").click()
    open_card(page)
    page.wait_for_url("**/#/cards/*")
    card = cards().get()
    assert (card.loose, card.bike, card.customer.name) == ("fork", None, "Ottilie Marsh")


def test_what_is_missing_is_said_at_its_field(enter, technician, seen_by_all):
    page = enter(technician, "#/new-card")
    open_card(page)
    expect(page.get_by_role("alert")).to_contain_text("Choose the bike")
    page.get_by_role("button", name="New bike").click()
    open_card(page)
    make = page.get_by_label("Make")
    expect(make).to_have_attribute("aria-invalid", "true")
    expect(page.locator(f"#{make.get_attribute('aria-describedby')}")).to_contain_text("Give the make")
    expect(make).to_be_focused()
    seen_by_all()
    assert not cards().exists()


def test_without_network_the_card_waits_on_the_tablet_and_opens_once(enter, technician):
    page = enter(technician, "#/new-card")
    fill_in_all(page)
    page.context.set_offline(True)
    open_card(page)
    expect(page.locator("#state")).to_have_text("Kept on this tablet — no connection")
    page.context.set_offline(False)
    page.wait_for_url("**/#/cards/*")
    expect(page.locator("#state")).to_have_text("Sent")
    assert cards().count() == 1


def test_a_lost_answer_opens_no_second_card(enter, technician):
    page = enter(technician, "#/new-card")
    fill_in_all(page)
    lost = []

    def lose_the_first_answer(route):
        if route.request.method != "POST" or route.request.url in lost:
            route.continue_()
            return
        lost.append(route.request.url)
        route.fetch()
        route.abort()

    page.route("**/api/**", lose_the_first_answer)
    open_card(page)
    page.wait_for_url("**/#/cards/*", timeout=60_000)
    assert len(lost) == 4, "customer, bike, rider and card were each answered to nobody once"
    assert cards().count() == 1
    assert everywhere(Bike, why="test").count() == 1
    assert everywhere(Customer, why="test").count() == 1


def test_a_half_typed_card_survives_a_reload_and_is_offered_on_the_list(enter, technician):
    page = enter(technician, "#/new-card")
    fill_in_all(page)
    page.evaluate("location.hash = '#/cards'")
    page.reload()
    page.get_by_role("link", name="Go on with it").click()
    expect(page.get_by_label("Make")).to_have_value("Brackwater")
    expect(box(page, "Mass in kit")).to_have_value("88.5")
    open_card(page)
    page.wait_for_url("**/#/cards/*")
    assert cards().get().bike.model == "Heron 3"
