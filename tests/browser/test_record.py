"""The customer's page: a phone, a link, one record."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from setups.record import links, seal
from setups.record.canonical import digest
from setups.record.links import share
from shops.trail import Actor
from tests.factories import CustomerLinkFactory
from tests.setups.record import conftest as invented_record
from tests.setups.record import invented

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"width": 390, "height": 844}
PATIENCE_MS = 30_000
NOTHING = "This link shows nothing: it is not complete, has run out, or was taken back."

make_ready_card = invented_record.make_ready_card


@pytest.fixture
def actor(technician):
    return Actor(technician, None)


@pytest.fixture
def card(make_ready_card, actor):
    """Return a sealed card."""
    card = make_ready_card()
    seal.seal(actor, card)
    return card


@pytest.fixture
def phone(page):
    """Return a customer's phone; a console error fails the test."""
    errors = []
    page.set_viewport_size(PHONE)
    page.set_default_timeout(PATIENCE_MS)
    page.on("console", lambda said: said.type == "error" and errors.append(f"{said.text} {said.location}"))
    yield page
    assert errors == []


def test_the_link_shows_the_record_and_not_what_the_rider_weighs(phone, live_server, card, actor, seen_by_all):
    _, secret = share(actor, card, days=30, share_mass=False)
    asked = []
    phone.on("request", lambda request: asked.append(request.url))
    phone.goto(f"{live_server.url}/record#{secret}")
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Veldt Kestrel 450 R")
    expect(phone.get_by_text(invented.card()["explanation"])).to_be_visible()
    assert f"{invented.MASS_KG:g} kg" not in phone.locator("main").inner_text()
    assert phone.locator("main svg").count() > 0
    assert not any(secret in address for address in asked), "the secret is in an address that a log may keep"
    seen_by_all()


def test_what_was_weighed_is_there_when_it_was_shared(phone, live_server, card, actor):
    _, secret = share(actor, card, days=30, share_mass=True)
    phone.goto(f"{live_server.url}/record#{secret}")
    expect(phone.get_by_text(f"{invented.MASS_KG:g} kg")).to_be_visible()


@pytest.mark.pdf
def test_the_button_gives_the_pdf(phone, live_server, card, actor):
    _, secret = share(actor, card, days=30, share_mass=False)
    phone.goto(f"{live_server.url}/record#{secret}")
    with phone.expect_download() as waited:
        phone.get_by_role("button", name="Get the whole record as a PDF").click()
    assert waited.value.suggested_filename.endswith(".pdf")
    assert waited.value.path().read_bytes().startswith(b"%PDF-")
    expect(phone.get_by_role("button", name="Get the whole record as a PDF")).to_be_enabled()


@pytest.mark.parametrize("why", ["unknown", "expired", "revoked"])
def test_a_link_that_opens_nothing_says_so_in_one_sentence(page, live_server, card, actor, why):
    link, secret = share(actor, card, days=30, share_mass=False)
    if why == "unknown":
        secret = "never-made"
    elif why == "expired":
        secret = "run-out"
        over = timezone.now() - timedelta(days=1)
        CustomerLinkFactory(card=card, secret_sha256=digest(secret), expires_at=over)
    else:
        links.revoke(actor, link)
    page.set_viewport_size(PHONE)
    page.goto(f"{live_server.url}/record#{secret}")
    expect(page.locator("main")).to_contain_text(NOTHING)
    assert page.locator("main > *").count() == 1


def test_an_address_without_its_secret_says_what_to_do(phone, live_server):
    phone.goto(f"{live_server.url}/record")
    expect(phone.locator("main")).to_have_text(
        "This address is not complete. Open the whole link that your workshop gave you."
    )


def test_without_a_connection_the_page_says_so(page, live_server, card, actor):
    _, secret = share(actor, card, days=30, share_mass=False)
    page.goto(f"{live_server.url}/record")
    expect(page.locator("main")).to_contain_text("not complete")
    page.context.set_offline(True)
    page.evaluate("secret => { location.hash = secret }", secret)
    expect(page.locator("main")).to_have_text("No connection. Try again when you are online.")
    page.context.set_offline(False)
