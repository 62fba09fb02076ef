"""Second factor, invitation and forgotten password, as people meet them."""

from __future__ import annotations

import re

import pytest
from django.core import mail
from django.utils import timezone
from playwright.sync_api import expect

from shops import second_factor
from shops.access import everywhere
from shops.keys import SecondFactor
from tests.browser.test_sign_in import sign_in
from tests.shops.test_invitations import letters, secret_in
from tests.shops.test_second_factor import RFC_KEY

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

AT, CODE = 1111111111, "050471"  # RFC 6238, appendix B


@pytest.fixture
def standing_clock(monkeypatch):
    """Let codes be those of RFC 6238's own example time."""
    monkeypatch.setattr(second_factor, "time", type("Clock", (), {"time": staticmethod(lambda: AT)}))


def test_a_second_factor_is_turned_on_and_asked_for(enter, page, manager, standing_clock, seen_by_all):
    enter(manager, "#/me")
    seen_by_all()
    page.get_by_role("button", name="Turn it on").click()
    expect(page.get_by_role("img", name="QR code").or_(page.locator(".square svg")).first).to_be_visible()
    everywhere(SecondFactor, why="test").update(key=RFC_KEY)
    seen_by_all()
    page.get_by_label("Code").fill("111111")
    page.get_by_role("button", name="Turn it on").click()
    expect(page.get_by_text("That is not the device's code")).to_be_visible()
    page.get_by_label("Code").fill(CODE)
    page.get_by_role("button", name="Turn it on").click()
    expect(page.locator(".codes li")).to_have_count(10)
    seen_by_all()
    recovery = page.locator(".codes li").first.inner_text()
    page.get_by_role("button", name="I have written them down").click()
    expect(page.get_by_role("button", name="Turn it off")).to_be_visible()
    page.get_by_role("button", name="Sign out").first.click()
    sign_in(page, manager.email)
    page.get_by_label("Code").fill(CODE)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_text("each one is taken once")).to_be_visible()
    page.get_by_label("Code").fill(recovery)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Sign out").first).to_be_visible()


def test_where_it_is_due_the_own_account_opens_first(page, live_server, manager, settings):
    settings.SECOND_FACTOR_FOR = ["manager"]
    page.goto(live_server.url)
    sign_in(page, manager.email)
    expect(page.get_by_text("Your role needs a second factor here")).to_be_visible()


def test_an_invitation_is_made_and_taken_up(enter, page, live_server, manager, seen_by_all):
    enter(manager, "#/business?part=people")
    page.get_by_role("button", name="Invite by mail").click()
    page.get_by_label("E-mail", exact=True).fill("corin@springwell.example")
    page.get_by_role("button", name="Invite", exact=True).click()
    link = page.get_by_label("Invitation", exact=True)
    expect(link).to_be_visible()
    seen_by_all()
    address = link.input_value()
    assert secret_in(letters()[-1].body) in address
    page.context.clear_cookies()
    page.goto("about:blank")
    page.goto(address)
    expect(page.get_by_text("Imke Daveney invites you to work at Harbour Yard")).to_be_visible()
    seen_by_all()
    page.get_by_label("Your name").fill("Corin Ashdale")
    page.get_by_label("Password").fill("quince hammer eleven")
    page.get_by_role("button", name="Come in").click()
    expect(page.get_by_text("Harbour Yard · Corin Ashdale")).to_be_visible()
    assert "invited" not in page.url
    page.goto("about:blank")
    page.goto(address)
    expect(page.get_by_text("This invitation does not open")).to_be_visible()


def test_a_forgotten_password_is_replaced_by_mail(page, live_server, technician, seen_by_all):
    page.goto(live_server.url)
    page.get_by_role("button", name="Forgot the password").click()
    seen_by_all()
    page.get_by_label("E-mail").fill(technician.email)
    page.get_by_role("button", name="Send the link").click()
    expect(page.get_by_text("Look into your mail")).to_be_visible()
    secret = secret_in(letters()[-1].body)
    assert mail.outbox[-1].to == [technician.email]
    page.goto("about:blank")
    page.goto(f"{live_server.url}/#/recover/{secret}")
    page.get_by_label("New password").fill("x9 k7")
    page.get_by_role("button", name="Set it").click()
    expect(page.get_by_text("This password is too short")).to_be_visible()
    page.get_by_label("New password").fill("quince hammer eleven")
    page.get_by_role("button", name="Set it").click()
    page.get_by_role("button", name="To the sign-in").click()
    sign_in(page, technician.email, "quince hammer eleven")
    expect(page.get_by_text("Harbour Yard · Ansel Thorpe")).to_be_visible()


def test_a_manager_helps_somebody_in(enter, manager, second_technician):
    page = enter(manager, "#/business?part=people")
    page.get_by_role("button", name="Petra Lindqvar").click()
    page.get_by_role("button", name="Link for a new password").click()
    expect(page.locator(".once input")).to_have_value(re.compile(r"/#/recover/[\w-]{43}$"))


def test_an_owner_turns_a_lost_second_factor_off(enter, owner, manager):
    SecondFactor.objects.create(person=manager, key=RFC_KEY, on_since=timezone.now())
    page = enter(owner, "#/business?part=people")
    page.get_by_role("button", name="Imke Daveney").click()
    page.get_by_role("button", name="Turn second factor off").click()
    expect(page.locator("#state")).to_contain_text("without a second factor")
    assert not everywhere(SecondFactor, why="test").exists()
