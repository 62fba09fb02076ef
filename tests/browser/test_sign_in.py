"""Signing in and out on a shared tablet."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.factories import PASSWORD

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def sign_in(page, email, password=PASSWORD):
    page.get_by_label("E-mail").fill(email)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()


def test_signing_in_leads_to_the_address_that_was_asked_for(page, live_server, technician, seen_by_all):
    page.goto(f"{live_server.url}/#/springs")
    expect(page.get_by_role("heading", name="Coilbook")).to_be_visible()
    seen_by_all()
    sign_in(page, technician.email)
    expect(page.get_by_role("heading", name="Springs")).to_be_visible()
    expect(page.get_by_text("Harbour Yard · Ansel Thorpe")).to_be_visible()


def test_a_wrong_password_is_said_in_words_and_nothing_typed_is_lost(page, live_server, technician):
    page.goto(live_server.url)
    sign_in(page, technician.email, "not the password")
    expect(page.get_by_role("alert")).not_to_be_empty()
    expect(page.get_by_label("E-mail")).to_have_value(technician.email)
    expect(page.get_by_role("button", name="Sign out")).not_to_be_visible()


def test_signing_out_leaves_nothing_of_the_person_on_the_tablet(enter, technician):
    page = enter(technician, "#/new-card")
    page.get_by_label("What is wrong?").fill("Clonks over kerbs.")
    assert "Clonks over kerbs." in page.evaluate("JSON.stringify(localStorage)")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    left = page.evaluate("JSON.stringify(localStorage)")
    assert "Clonks over kerbs." not in left
    assert f"coilbook.{technician.pk}." not in left


def test_a_sign_in_that_has_run_out_keeps_what_was_typed(enter, technician):
    page = enter(technician, "#/new-card")
    page.get_by_label("What is wrong?").fill("Clonks over kerbs.")
    page.context.clear_cookies(name="sessionid")
    page.evaluate("location.hash = '#/bikes'")
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    expect(page.locator("#state")).to_contain_text("What you typed is kept")
    page.evaluate("location.hash = '#/new-card'")
    sign_in(page, technician.email)
    expect(page.get_by_label("What is wrong?")).to_have_value("Clonks over kerbs.")


def test_one_persons_drafts_are_not_shown_to_the_next(enter, technician, second_technician):
    page = enter(technician, "#/new-card")
    page.get_by_label("What is wrong?").fill("Clonks over kerbs.")
    page.context.clear_cookies(name="sessionid")
    page.goto("about:blank")
    enter(second_technician, "#/new-card")
    expect(page.get_by_label("What is wrong?")).to_have_value("")
