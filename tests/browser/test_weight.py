"""How much and how often the client asks: a workshop's wifi is slow, and a tablet there is an old one.

Sizes and counts, never times.
"""

from __future__ import annotations

from urllib.parse import urlsplit

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_BYTES = 90_000  # the project's own limit for all of the client's text together, compressed
MOST_BYTES_FOR_CUSTOMERS = 5_000

# Resource Timing (W3C): `encodedBodySize` is what came over the wire, before the content's encoding is undone.
SIZES = """async (others) => {
  await Promise.all(others.map((each) => fetch(each, {cache: "no-store"}).then((answer) => answer.text())));
  return [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")]
    .map((each) => [new URL(each.name).pathname, each.encodedBodySize]);
}"""


@pytest.fixture
def locale():
    return "en-GB"


@pytest.fixture
def browser_context_args(browser_context_args, locale):
    return browser_context_args | {"locale": locale}


@pytest.fixture
def asked(page):
    """Return every request that the page makes, each with what made the browser ask, as Chromium tells it."""
    session = page.context.new_cdp_session(page)
    found = []
    session.send("Network.enable")
    session.on("Network.requestWillBeSent", lambda event: found.extend([event]))  # a built-in method cannot be hung on
    yield found
    session.detach()


def named_by(event):
    """Return the path of what made the browser ask: a page, a style sheet or a script; None for the page itself."""
    why = event["initiator"]
    frames = why.get("stack", {}).get("callFrames", [])
    address = why.get("url") or (frames[0]["url"] if frames else "")
    return urlsplit(address).path or None


@pytest.mark.parametrize("locale", ["en-GB", "de-DE"])
@pytest.mark.parametrize("address", ["/", "/record"])
def test_the_client_is_there_after_two_round_trips(page, live_server, asked, address, locale):
    """The first brings the page, the second all else of the client. What it then asks the API is the work itself."""
    page.goto(f"{live_server.url}{address}")
    page.locator("main button, #say").first.wait_for()
    files = {urlsplit(event["request"]["url"]).path: named_by(event) for event in asked}
    files = {path: by for path, by in files.items() if not path.startswith("/api/")}
    assert {path.rpartition(".")[2] for path in files} >= {"js", "css"}
    texts = {"/": "/words/de.json", "/record": "/words/de.record.json"}[address]
    assert (texts in files) == (locale == "de-DE")
    assert {path: by for path, by in files.items() if by not in (None, address)} == {}


def test_no_request_leaves_the_server(page, live_server, enter, owner, asked):
    for address in ("#/cards", "#/bikes", "#/springs", "#/business", "#/audit", "#/data", "#/me", "#/new-card"):
        enter(owner, address)
    page.goto(f"{live_server.url}/record")
    page.locator("#say").wait_for()
    addresses = [event["request"]["url"] for event in asked]
    assert len(addresses) > 8
    # What stands whole in its own address ("data:") is asked of nobody.
    assert [each for each in addresses if not each.startswith((f"{live_server.url}/", "data:"))] == []


def weight(page, address, others):
    """Return how many bytes each file of a page has on its way, and of `others` that it does not load itself."""
    page.goto(address)
    page.locator("main button, #say").first.wait_for()
    files = {path: size for path, size in page.evaluate(SIZES, others) if not path.startswith("/api/")}
    assert min(files.values()) > 0
    assert {path.rpartition(".")[2] for path in files} >= {"js", "css"}
    return files


def test_the_whole_client_is_small(page, live_server):
    files = weight(page, f"{live_server.url}/", ["/worker.js", "/static/icon.svg"])
    assert len(files) == 5
    assert sum(files.values()) <= MOST_BYTES, files


def test_the_customers_page_is_smaller_still(page, live_server):
    """A customer loads nothing of the staff's client."""
    files = weight(page, f"{live_server.url}/record", [])
    assert sum(files.values()) <= MOST_BYTES_FOR_CUSTOMERS, files
