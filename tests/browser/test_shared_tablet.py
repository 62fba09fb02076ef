"""One tablet, several technicians: hands change by PIN, the full sign-in is asked for, the next sees nothing."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from shops import pins, tablets
from shops.access import everywhere
from shops.keys import Tablet
from shops.tablets import COOKIE
from shops.trail import Actor
from tests.browser.test_job import read_cautions
from tests.factories import PASSWORD, JobCardFactory, ToolFactory, TorqueLineFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PIN, OTHER_PIN = "480217", "915364"


@pytest.fixture
def tablet(page, live_server, technician, second_technician):
    """Return the page on an enrolled tablet, on which two technicians have a PIN and nobody is signed in."""
    pins.give(Actor(technician), PIN)
    pins.give(Actor(second_technician), OTHER_PIN)
    _, token = tablets.enrol(Actor(technician), "Bench 1")
    cookie = {"name": COOKIE, "value": token, "domain": "localhost", "path": "/api/", "sameSite": "Strict"}
    page.context.add_cookies([{**cookie, "httpOnly": True}])
    page.goto(f"{live_server.url}/#/cards")
    expect(page.get_by_role("heading", name="Who takes over?")).to_be_visible()
    return page


def type_pin(page, pin):
    for digit in pin:
        page.get_by_role("button", name=digit, exact=True).click()


def take_over(page, person, pin):
    page.get_by_role("button", name=person.name).click()
    expect(page.get_by_role("heading", name=person.name)).to_be_visible()
    type_pin(page, pin)
    expect(page.get_by_role("button", name="Change hands")).to_be_visible()
    expect(page.locator("#place")).to_contain_text(person.name)


def test_two_technicians_change_hands_and_see_nothing_of_each_other(
    tablet, technician, second_technician, seen_by_all
):
    page = tablet
    seen_by_all()
    page.get_by_role("button", name=technician.name).click()
    seen_by_all()
    type_pin(page, PIN)
    expect(page.locator("#place")).to_contain_text(technician.name)
    page.evaluate("location.hash = '#/new-card'")
    page.get_by_label("What is wrong?").fill("Clonks over kerbs.")
    page.get_by_role("button", name="Change hands").click()
    expect(page.get_by_role("heading", name="Who takes over?")).to_be_visible()
    assert "Clonks over kerbs." not in page.locator("body").inner_text()
    take_over(page, second_technician, OTHER_PIN)
    expect(page.get_by_label("What is wrong?")).to_have_value("")
    page.get_by_role("button", name="Change hands").click()
    take_over(page, technician, PIN)
    expect(page.get_by_label("What is wrong?")).to_have_value("Clonks over kerbs.")


def test_a_second_check_asks_for_the_password_and_then_goes_on(tablet, technician, second_technician, shop):
    page = tablet
    line = TorqueLineFactory(
        card=JobCardFactory(shop=shop, step="built"), value_nm=22, source_edition="2nd", source_page="4",
        tightened_by=technician, tightened_at=timezone.now(), wrench=ToolFactory(shop=shop),
    )  # fmt: skip
    take_over(page, second_technician, OTHER_PIN)
    page.evaluate(f"location.hash = '#/cards/{line.card_id}/built'")
    read_cautions(page)
    waiting = page.locator("li.line", has_text="wants a second check")
    waiting.locator("summary").click()
    with page.expect_response(re.compile("/check/"), timeout=60_000) as refused:
        waiting.get_by_role("button", name="Checked by a second person").click()
    assert refused.value.status == 403
    asked = page.get_by_role("dialog")
    expect(asked).to_contain_text("A PIN is not enough for this")
    asked.get_by_label(re.compile("Password of")).fill("wrong")
    asked.get_by_role("button", name="Go on").click()
    expect(asked).to_contain_text("That is not your password.")
    asked.get_by_label(re.compile("Password of")).fill(PASSWORD)
    with page.expect_response(re.compile("/check/"), timeout=60_000) as done:
        asked.get_by_role("button", name="Go on").click()
    assert done.value.status == 200
    expect(asked).to_be_hidden()
    line.refresh_from_db()
    assert line.checked_by_id == second_technician.pk


def test_leaving_the_password_out_does_nothing(tablet, second_technician):
    page = tablet
    take_over(page, second_technician, OTHER_PIN)
    page.evaluate("location.hash = '#/me'")
    page.get_by_label("PIN", exact=True).fill("702846")
    page.get_by_label("Password, to confirm").fill(PASSWORD)
    page.get_by_role("button", name="Change the PIN").click()
    page.get_by_role("dialog").get_by_role("button", name="Leave it").click()
    expect(page.get_by_role("alert").first).to_contain_text("This needs the full sign-in")


def test_five_wrong_pins_lock_and_the_password_unlocks(tablet, technician):
    page = tablet
    page.get_by_role("button", name=technician.name).click()
    for _ in range(pins.TRIES - 1):
        with page.expect_response(re.compile("/hands/")):
            type_pin(page, "111213")
        expect(page.get_by_role("alert")).to_contain_text("not this person's PIN")
    type_pin(page, "111213")
    expect(page.get_by_role("alert")).to_contain_text("Too many wrong PINs")
    type_pin(page, PIN)
    expect(page.get_by_role("alert")).to_contain_text("Too many wrong PINs")
    page.get_by_role("button", name="Sign in with the password").click()
    page.get_by_label("E-mail").fill(technician.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Change hands").click()
    take_over(page, technician, PIN)


def test_an_untouched_tablet_locks_and_hides_the_screen(tablet, technician, settings):
    settings.IDLE_S = 3
    page = tablet
    page.reload()
    take_over(page, technician, PIN)
    page.evaluate("location.hash = '#/new-card'")
    page.get_by_label("What is wrong?").fill("Clonks over kerbs.")
    expect(page.get_by_role("heading", name="Who takes over?")).to_be_visible()
    expect(page.get_by_label("What is wrong?")).to_have_count(0)
    assert "Clonks" not in page.locator("body").inner_text()
    take_over(page, technician, PIN)
    expect(page.get_by_label("What is wrong?")).to_have_value("Clonks over kerbs.")


def test_without_network_it_locks_too_and_a_reload_does_not_open_it(tablet, technician):
    page = tablet
    take_over(page, technician, PIN)
    page.route("**/api/**", lambda route: route.abort())
    page.get_by_role("button", name="Change hands").click()
    expect(page.get_by_role("heading", name="Locked")).to_be_visible()
    page.reload()
    expect(page.get_by_role("heading", name="Locked")).to_be_visible()
    page.unroute("**/api/**")
    page.reload()
    expect(page.get_by_role("heading", name="Who takes over?")).to_be_visible()


def test_enrolling_and_revoking_in_the_business_screen(enter, manager, seen_by_all):
    page = enter(manager, "#/business?part=tablets")
    seen_by_all()
    page.get_by_label("Name of this tablet").fill("Bench 2")
    page.get_by_role("button", name="Enrol it").click()
    expect(page.get_by_text("This device is enrolled as Bench 2.")).to_be_visible()
    expect(page.get_by_role("button", name="Change hands")).to_be_visible()
    seen_by_all()
    page.get_by_role("button", name="Revoke Bench 2").click()
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    assert everywhere(Tablet, why="test").get().revoked_at


def test_a_page_left_open_in_another_hand_shows_who_is_here(tablet, technician, second_technician, live_server):
    """Two pages of one browser share its session: the older one must not go on in the former's name."""
    page = tablet
    take_over(page, technician, PIN)
    other = page.context.new_page()
    other.goto(f"{live_server.url}/#/cards")
    expect(other.locator("#place")).to_contain_text(technician.name)
    page.get_by_role("button", name="Change hands").click()
    take_over(page, second_technician, OTHER_PIN)
    other.evaluate("location.hash = '#/bikes'")
    expect(other.locator("#place")).to_contain_text(second_technician.name)
    other.close()
