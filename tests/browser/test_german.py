"""A technician who speaks German, from the door to the first answer, and what customers are told in German.

The sag that the screen must show is worked out here by hand, by the trade's definition (common practice, no source):
sag = wheel-free length less the mean of the readings from above and below; friction half their gap. The decimal sign
is the comma (DIN 1333; CLDR, locale "de").
"""

from __future__ import annotations

import re

import pytest
from django.test import Client
from playwright.sync_api import expect

from shops.site import collect
from tests.factories import PASSWORD

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
STEPS = ("received", "measured", "chosen", "built", "remeasured", "handed_over", "sealed")
PLACE = re.compile(r"\\\{\w+\\\}")
# Every line in sight, unfolded, and every name that only those hear who do not see.
LINES = """() => {
  for (const each of document.querySelectorAll("main details")) each.open = true;
  const named = [...document.querySelectorAll("[aria-label]")].map((each) => each.getAttribute("aria-label"));
  return [...document.body.innerText.split("\\n"), ...named].map((each) => each.trim()).filter(Boolean);
}"""
KEPT = """async () => {
  for (const name of await caches.keys()) {
    const kept = (await (await caches.open(name)).keys()).map((each) => new URL(each.url).pathname);
    const script = kept.some((each) => /^\\/pack\\/index\\.\\w+\\.js$/.test(each));
    const style = kept.some((each) => /^\\/pack\\/index\\.\\w+\\.css$/.test(each));
    if (script && style && ["/", "/words/de.json"].every((each) => kept.includes(each))) return true;
  }
  return false;
}"""


@pytest.fixture
def german(technician):
    technician.language = "de"
    technician.save()
    return technician


@pytest.fixture(scope="module")
def english():
    """Return a pattern of the client's English sentences, of three words or more, that German says otherwise."""
    known = [each for each in collect.kept("djangojs", "de") if each.id]
    sentences = {collect.first(each.id) for each in known} - {collect.first(each.string) for each in known}
    long = [each for each in sentences if len(re.findall(r"[A-Za-z]{2,}", re.sub(r"\{\w+\}", "", each))) > 2]
    return re.compile("|".join(PLACE.sub(".+", re.escape(each)) for each in long))


def hidden_english(page, english):
    return [line for line in page.evaluate(LINES) if english.fullmatch(line)]


def speaks(page, language):
    expect(page.locator("html")).to_have_attribute("lang", language)


def test_from_the_door_to_the_work_in_german(page, live_server, german, english):
    page.set_default_timeout(PATIENCE_MS)
    page.goto(live_server.url)
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    page.get_by_role("button", name="Deutsch").click()
    speaks(page, "de")
    assert hidden_english(page, english) == []
    page.get_by_label("E-Mail").fill(german.email)
    page.get_by_label("Passwort", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Anmelden").click()
    expect(page.get_by_role("heading", level=1, name="Aufträge")).to_be_visible()
    for address in ("#/new-card", "#/bikes", "#/springs", "#/me", "#/business?part=tools"):
        page.goto(f"{live_server.url}/{address}")
        page.locator("h1").wait_for()
        assert hidden_english(page, english) == [], address
    page.goto(f"{live_server.url}/#/me")
    page.get_by_role("radio", name="English").check(force=True)
    speaks(page, "en")
    expect(page.get_by_role("heading", name="Units")).to_be_visible()
    german.refresh_from_db()
    assert german.language == "en"


def test_the_first_answer_of_a_card_in_german(enter, page, german, card, english, live_server):
    """The browser is an English one: who is signed in goes before it."""
    page.set_default_timeout(PATIENCE_MS)
    page = enter(german, f"#/cards/{card.pk}/measured")
    speaks(page, "de")
    readings = {"Rad entlastet": "640", "Motorrad allein, von oben": "620,5", "Motorrad allein, von unten": "614"}
    for name, value in readings.items():
        field = page.get_by_role("textbox", name=f"Hinten: {name}", exact=True)
        field.fill(value)
        field.press("Tab")
    # 640 − (620.5 + 614) / 2 = 22.75, and half of 6.5.
    static = page.locator(".panel[data-end=rear] .figure", has_text="Statischer Durchhang")
    expect(static).to_contain_text("23 mm")
    expect(static).to_contain_text("23 mm ± 3")
    static.click()
    expect(page.get_by_text("± 3,3 mm")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator(".card-state")).to_have_text("Alles gespeichert.")
    for step in STEPS:
        page.locator(f"#to-{step}").click()
        expect(page.locator(f"#to-{step}")).to_have_attribute("aria-current", "step")
        page.wait_for_load_state("networkidle")
        assert hidden_english(page, english) == [], step


def test_a_customers_page_says_in_german_what_is_wrong_with_a_link(browser, browser_context_args, live_server):
    context = browser.new_context(**browser_context_args | {"locale": "de-AT"})
    page = context.new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{live_server.url}/record")
    expect(page.locator("#say")).to_have_text(re.compile("^Diese Adresse ist unvollständig"))
    speaks(page, "de")
    # The workshop's texts stay in the workshop.
    assert [each for each in asked if "/words/" in each] == [f"{live_server.url}/words/de.record.json"]
    page.get_by_role("button", name="English").click()
    speaks(page, "en")
    expect(page.locator("#say")).to_have_text(re.compile("^This address is not complete"))
    context.close()


def test_without_network_the_page_opens_in_the_language_it_had(browser, browser_context_args, live_server, german):
    context = browser.new_context(**browser_context_args | {"service_workers": "allow"})
    client = Client()
    client.force_login(german, backend="shops.sign_in.PersonBackend")
    session = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(f"{live_server.url}/#/me")
    speaks(page, "de")
    expect(page.get_by_role("link", name="Aufträge")).to_be_visible()
    for _ in range(PATIENCE_MS // 250):
        if page.evaluate(KEPT):
            break
        page.wait_for_timeout(250)
    else:
        pytest.fail("The catalogue is not kept.")
    context.set_offline(True)
    for _ in range(2):  # what a page opened without network tells its worker must not cost it what it keeps
        page.reload()
        speaks(page, "de")
        expect(page.get_by_role("link", name="Aufträge")).to_be_visible()
    context.close()
