"""A manager at a desk: what is missing, a batch recalled, a list taken away, the changes read, the chain checked."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from pathlib import Path

import pytest
from playwright.sync_api import expect

from setups.models import StoredPdf
from setups.record import seal
from shops import verbs
from shops.access import everywhere
from shops.models import Person
from shops.trail import Actor
from tests.browser.devices import DESK, PHONE
from tests.factories import PersonFactory, ShopFactory, ToolFactory
from tests.setups.record import conftest as invented_record
from tests.setups.test_audit import uncheck, use

make_ready_card = invented_record.make_ready_card
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def manager(db):
    return PersonFactory(shop=ShopFactory(name="Harbour Row"), role=Person.Role.MANAGER, name="Petra Lind")


def test_a_manager_finds_what_is_missing_recalls_takes_away_and_checks(page, enter, manager, seen_by_all):
    shop = manager.shop
    line, used = uncheck(shop), use(shop)
    tool = ToolFactory(shop=shop, name="Wrench A", serial="W-1")
    verbs.change_tool(Actor(manager, "192.0.2.7"), tool, 1, {"name": "Wrench B"})
    page.set_viewport_size(DESK)
    enter(manager, "#/business")
    page.get_by_role("link", name="Audit").click()

    found = page.locator(".audit .rows")
    expect(found).to_contain_text(f"{line.card.number} {line.card.bike}")
    expect(found).to_contain_text("checked by no second person")
    page.get_by_label("To", exact=True).fill("2020-01-01")
    expect(found).to_contain_text("Every fastener that needs a second check has one.")

    page.get_by_role("link", name="Batches").click()
    expect(found).to_contain_text("Type a batch")
    page.get_by_label("Batch", exact=True).fill("Q4")
    expect(found).to_contain_text(used.card.customer.name)
    with page.expect_download() as caught:
        page.get_by_role("button", name="Save as CSV").click()
    text = Path(caught.value.path()).read_text(encoding="utf-8-sig")
    [row] = list(csv.DictReader(io.StringIO(text)))
    assert row["Card"] == used.card.number

    page.get_by_role("link", name="Changes").click()
    expect(found).to_contain_text("give list out")
    page.get_by_label("Changes of").select_option(label="tools")
    expect(found).not_to_contain_text("give list out")
    expect(found).to_contain_text("change tool: Wrench B (W-1)")
    expect(found).to_contain_text("name: Wrench A → Wrench B")
    expect(found).to_contain_text("Petra Lind, 192.0.2.7")
    seen_by_all()

    page.get_by_role("link", name="Chain of records").click()
    page.get_by_role("button", name="Check the records").click()
    expect(found).to_contain_text("Harbour Row: no record yet")
    seen_by_all()


def test_on_a_phone_every_list_can_be_chosen(page, enter, manager):
    page.set_viewport_size(DESK)
    enter(manager, "#/audit")
    names = page.get_by_role("navigation", name="lists of the audit").get_by_role("link").all_inner_texts()
    page.set_viewport_size(PHONE)
    pick = page.get_by_label("List", exact=True)
    assert pick.locator("option").all_inner_texts() == names
    for name in (names[-1], names[3]):
        pick.select_option(label=name)
        expect(page.get_by_role("heading", level=2)).to_have_text(name)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    box = pick.bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= PHONE["width"]


def test_a_technician_is_told_whose_it_is(page, enter, manager):
    enter(PersonFactory(shop=manager.shop), "#/audit")
    expect(page.locator("main")).to_contain_text("The audit is a manager’s.")


@pytest.mark.pdf
def test_the_pdfs_of_many_records_are_saved_as_one_file_or_called_off(
    page, enter, technician, owner, make_ready_card, monkeypatch
):
    monkeypatch.setattr("setups.audit.records.SLICE", 1)
    for _ in range(2):
        seal.seal(Actor(technician, None), make_ready_card())
    stored = everywhere(StoredPdf, why="this test")
    enter(owner, "#/audit?about=records")
    expect(page.locator(".audit .rows li")).to_have_count(2)
    # The second slice waits until the first was called off.
    held = []
    page.route(re.compile("done=1$"), lambda route: held.extend([route]))
    page.get_by_role("button", name="Save the PDFs").click()
    expect(page.get_by_role("progressbar")).to_have_js_property("value", 0.5)
    page.get_by_role("button", name="Call it off").click()
    [waiting] = held
    waiting.continue_()
    expect(page.locator("#state")).to_contain_text("Called off; no file was made.")
    page.unroute_all()
    assert stored.count() <= 2
    assert {bytes(one.content)[:5] for one in stored.all()} == {b"%PDF-"}, "what is stored is whole"

    with page.expect_download() as caught:
        page.get_by_role("button", name="Save the PDFs").click()
    with zipfile.ZipFile(caught.value.path()) as packed:
        assert packed.testzip() is None
        assert len(packed.namelist()) == 2
    expect(page.get_by_role("progressbar")).to_have_count(0)
