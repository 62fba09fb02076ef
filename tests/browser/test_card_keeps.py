"""Nothing typed on a card is lost: without wifi, over a reload, and when somebody else was quicker."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from playwright.sync_api import expect

from setups.models import Reading, Setting
from shops.access import everywhere

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
KEPT = """async () => {
  for (const name of await caches.keys()) {
    const kept = (await (await caches.open(name)).keys()).map((each) => new URL(each.url).pathname);
    if (kept.includes("/") && kept.some((each) => /^\\/pack\\/index\\.\\w+\\.js$/.test(each))) return true;
  }
  return false;
}"""


@pytest.fixture
def roaming(browser, browser_context_args, live_server):
    """Return the way in on a tablet that keeps the program's own files, as tablets do."""
    context = browser.new_context(**browser_context_args | {"service_workers": "allow"})

    def enter(person, address):
        client = Client()
        client.force_login(person, backend="shops.sign_in.PersonBackend")
        session = client.cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(f"{live_server.url}/{address}")
        return page

    yield enter
    context.close()


@pytest.fixture
def patient(page):
    page.set_default_timeout(PATIENCE_MS)
    return page


def the_one(model, **which):
    return everywhere(model, why="what a test left behind").get(**which)


def field(page, name):
    return page.get_by_role("textbox", name=name, exact=True)


def until(page, question):
    """Ask until it is so; the page's own policy forbids a function that asks by itself."""
    for _ in range(PATIENCE_MS // 250):
        if page.evaluate(question):
            return
        page.wait_for_timeout(250)
    pytest.fail(f"never so: {question}")


def saved(page):
    expect(page.locator(".card-state")).to_have_text("All saved.")


def test_without_wifi_every_keystroke_is_found_again_after_a_reload(roaming, technician, card):
    page = roaming(technician, f"#/cards/{card.pk}/received")
    saved(page)
    # The program's files are kept once the page has been open a while.
    until(page, KEPT)
    page.context.set_offline(True)
    field(page, "Complaint").fill("Dives, and clonks over kerbs.")
    field(page, "Distance").fill("12 thousand")
    field(page, "Preload").fill("12.5")
    field(page, "Preload").press("Tab")
    expect(page.locator(".card-state")).to_contain_text("kept on this device")
    expect(page.locator(".panel .verdict").first).to_contain_text("not recalculated")
    page.locator("#to-measured").click()
    field(page, "Front: Wheel free").fill("61")
    page.keyboard.type("2")

    page.reload()
    expect(field(page, "Front: Wheel free")).to_have_value("612")
    page.locator("#to-received").click()
    expect(field(page, "Complaint")).to_have_value("Dives, and clonks over kerbs.")
    expect(field(page, "Distance")).to_have_value("12 thousand")
    expect(field(page, "Preload")).to_have_value("12.5")

    page.context.set_offline(False)
    # What is no number stays with its author, and says so; the rest has gone.
    expect(page.locator(".card-state")).to_contain_text("1 entry needs your eye")
    card.refresh_from_db()
    assert card.complaint == "Dives, and clonks over kerbs."
    legs = the_one(Setting, card=card, stage="received", end="front").body["legs"]
    assert [leg["preload_mm"] for leg in legs] == [12.5, 12.5]
    assert the_one(Reading, card=card).value == 612
    field(page, "Distance").fill("12000")
    field(page, "Distance").press("Tab")
    saved(page)
    left = page.evaluate("Object.keys(localStorage).filter((key) => /setting|fields|readings/.test(key))")
    assert left == []


def test_a_second_technicians_change_is_shown_beside_ones_own(
    enter, patient, technician, second_technician_client, card
):
    page = enter(technician, f"#/cards/{card.pk}/received")
    saved(page)
    address = f"/api/cards/{card.pk}/settings/received/front/"
    setting = the_one(Setting, card=card, stage="received", end="front")
    legs = [{**leg, "preload_mm": 15} for leg in setting.body["legs"]]
    theirs = {**setting.body, "legs": legs, "fork_height_mm": 4}
    answer = second_technician_client.put(address, theirs, headers={"If-Match": f'"{setting.version}"'})
    assert answer.status_code == 200, answer.content

    field(page, "Preload").fill("12")
    field(page, "Preload").press("Tab")
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("15 mm")
    expect(dialog).to_contain_text("12 mm")
    dialog.get_by_role("button", name="Save mine over it").click()
    saved(page)
    body = the_one(Setting, card=card, stage="received", end="front").body
    assert [leg["preload_mm"] for leg in body["legs"]] == [12, 12]
    # Only what both had changed was asked about: the other's fork height stands.
    assert body["fork_height_mm"] == 4
    expect(field(page, "Fork height")).to_have_value("4")


def test_entries_that_do_not_meet_are_both_kept_without_a_question(
    enter, patient, technician, second_technician_client, card
):
    page = enter(technician, f"#/cards/{card.pk}/received")
    saved(page)
    answer = second_technician_client.patch(
        f"/api/cards/{card.pk}/", {"distance_km": 8200}, headers={"If-Match": f'"{card.version}"'}
    )
    assert answer.status_code == 200, answer.content
    field(page, "Running hours").fill("210")
    field(page, "Running hours").press("Tab")
    expect(field(page, "Distance")).to_have_value("8200")
    saved(page)
    card.refresh_from_db()
    assert (card.distance_km, card.hours) == (8200, 210)


def test_the_last_change_is_taken_back(enter, patient, technician, card):
    page = enter(technician, f"#/cards/{card.pk}/received")
    saved(page)
    field(page, "Preload").fill("14")
    field(page, "Preload").press("Tab")
    page.get_by_role("button", name=re.compile("^Undo")).click()
    expect(field(page, "Preload")).to_have_value("10")
    saved(page)
    legs = the_one(Setting, card=card, stage="received", end="front").body["legs"]
    assert [leg["preload_mm"] for leg in legs] == [10, 10]


def test_changes_are_taken_back_one_after_the_other(enter, patient, technician, card):
    page = enter(technician, f"#/cards/{card.pk}/received")
    saved(page)
    for value in ("14", "16"):
        field(page, "Preload").fill(value)
        field(page, "Preload").press("Tab")
        saved(page)
    undo = page.get_by_role("button", name=re.compile("^Undo"))
    undo.click()
    expect(field(page, "Preload")).to_have_value("14")
    undo.click()
    expect(field(page, "Preload")).to_have_value("10")
    expect(undo).to_have_count(0)


def test_entries_that_go_together_and_are_refused_for_one_are_not_said_to_be_on_their_way(
    enter, patient, technician, card
):
    page = enter(technician, f"#/cards/{card.pk}/received")
    saved(page)
    field(page, "Preload").fill("4000")
    field(page, "Preload").press("Tab")
    expect(page.locator(".note.problem").first).to_contain_text("4000 mm")
    expect(page.locator(".card-state")).to_have_text("2 entries need your eye; kept on this device.")
    field(page, "Preload").fill("12")
    field(page, "Preload").press("Tab")
    saved(page)
    legs = the_one(Setting, card=card, stage="received", end="front").body["legs"]
    assert [leg["preload_mm"] for leg in legs] == [12, 12]


def test_a_reading_that_cannot_be_is_refused_once_in_words_and_the_others_go_on(enter, patient, technician, card):
    page = enter(technician, f"#/cards/{card.pk}/measured")
    saved(page)
    refused = []
    page.on("response", lambda answer: answer.status == 400 and refused.append(answer.url))
    field(page, "Front: Wheel free").fill("6")
    field(page, "Front: Wheel free").press("Tab")
    note = page.locator("[data-path='front.wheel_free_mm'] .note.problem")
    expect(note).to_contain_text("6 mm")
    field(page, "Rear: Wheel free").fill("640")
    field(page, "Rear: Wheel free").press("Tab")
    expect(page.locator(".card-state")).to_contain_text("1 entry needs your eye")
    assert the_one(Reading, card=card).value == 640
    assert len(refused) == 1
    field(page, "Front: Wheel free").fill("612")
    field(page, "Front: Wheel free").press("Tab")
    saved(page)
