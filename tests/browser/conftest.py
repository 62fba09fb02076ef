"""Debian's Chromium against a live server: tablet first.

A page error or a refusal by the content policy fails a test.
"""

from __future__ import annotations

import os

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client

from setups.verbs.cards import open_card
from shops.site import pack
from shops.trail import Actor
from tests.browser.devices import CHROMIUM, PHONE, TABLET
from tests.factories import BikeFactory, CustomerFactory, RiderFactory

# Playwright's loop runs in this thread, and Django takes every query here for one from inside a coroutine.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"


@pytest.fixture(scope="session", autouse=True)
def _chromium():
    if CHROMIUM.exists():
        return
    reason = f"{CHROMIUM} is missing: install the system's chromium package to run the browser tests."
    if os.environ.get("CI") == "true":
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="session", autouse=True)
def _packed_client():
    """Pack the client before a browser waits for it."""
    pack.warm()


@pytest.fixture(scope="session")
def browser_type_launch_args():
    return {
        "executable_path": str(CHROMIUM),
        "args": [
            "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
            "--disable-background-networking", "--disable-component-update",
        ],
    }  # fmt: skip


@pytest.fixture(scope="session")
def browser_context_args():
    # The service worker would stand between a test and the requests that it watches; its own test lets it in.
    place = {"locale": "en-GB", "timezone_id": "UTC"}
    return {"viewport": TABLET, "has_touch": True, "service_workers": "block", **place}


@pytest.fixture
def page(page, live_server):
    """Return a page of the live server; whatever goes wrong in it unseen fails the test."""
    page.set_default_timeout(10_000)
    wrong = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda said: "Content Security Policy" in said.text and wrong.append(said.text))
    yield page
    assert not wrong


@pytest.fixture
def enter(page, live_server):
    """Return the way in for a person who has signed in already: `enter(person, "#/cards")`."""

    def enter(person, address="#/cards"):
        client = Client()
        client.force_login(person, backend="shops.sign_in.PersonBackend")
        session = {"name": "sessionid", "value": client.cookies["sessionid"].value, "sameSite": "Strict"}
        page.context.add_cookies([{**session, "url": live_server.url}])
        page.goto(f"{live_server.url}/{address}")
        page.locator("h1").wait_for()
        return page

    return enter


@pytest.fixture
def card(shop, technician):
    """Return a card just opened, its bike ridden by its owner."""
    customer = CustomerFactory(business=shop.business, name="Tamsin Quarrel")
    rider = RiderFactory(customer=customer)
    bike = BikeFactory(business=shop.business, owner=customer)
    return open_card(
        Actor(technician, None), bike=bike, customer=customer, rider=rider, complaint="Dives under braking."
    )


@pytest.fixture
def seen_by_all(page):
    """Return the check that everybody can use the page in sight.

    axe-core's rules for WCAG 2.2 A and AA find nothing, light and dark; a gloved hand can hit every target;
    nothing is wider than a phone.
    """

    def check():
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            found = Axe().run(page, options={"runOnly": RULES})
            assert found.violations_count == 0, found.generate_report()
        assert page.evaluate(SMALL_TARGETS) == []
        page.set_viewport_size(PHONE)
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        page.set_viewport_size(TABLET)

    return check


RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]

# 48 CSS px: the project's own limit for gloves, above WCAG 2.2's 24 (success criterion 2.5.8).
SMALL_TARGETS = """() => [...document.querySelectorAll("a[href], button, input, select, textarea, summary")]
  .filter((each) => each.checkVisibility() && !each.classList.contains("skip"))
  .map((each) => [each.closest("label") ?? each, each])
  .map(([target, each]) => [target.getBoundingClientRect(), each])
  .filter(([box]) => box.height < 47.5 || box.width < 47.5)
  .map(([box, each]) => `${each.outerHTML.slice(0, 120)} ${box.width}x${box.height}`)"""
