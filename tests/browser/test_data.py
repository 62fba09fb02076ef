"""Lists in, everything out, a customer erased: by hand, in the browser."""

from __future__ import annotations

import io
import os
import zipfile

import pytest
from playwright.sync_api import expect

from setups.models import Customer
from shops.access import everywhere
from shops.models import StockSpring
from tests.browser.devices import PHONE, TABLET
from tests.factories import CustomerFactory, RiderFactory, StockSpringFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WHY = "a test looks at what was done"
LIST = "code;end;label;rate_n_per_mm;stock\nF460;fork;Fork 4,6;4,6;2\nR52;shock;Shock 52;52;1\n"


@pytest.fixture(autouse=True)
def _own_data_folder(settings, tmp_path):
    settings.DATA = tmp_path


def choose(page, text):
    page.get_by_label("File").set_input_files(
        {"name": "springs.csv", "mimeType": "text/csv", "buffer": text.encode()}
    )


def keep_picture(page, name):
    folder = os.environ.get("COILBOOK_SCREENS")
    if not folder:
        return
    for size, word in ((TABLET, "tablet"), (PHONE, "phone")):
        page.set_viewport_size(size)
        page.screenshot(path=f"{folder}/{name}-{word}.png", full_page=True)
    page.set_viewport_size(TABLET)


def test_a_list_is_looked_at_mended_and_taken_in(enter, manager, shop, seen_by_all):
    StockSpringFactory(shop=shop, code="R52", end="rear", label="Shock 52", sort_rate_n_per_mm=52, stock=3)
    page = enter(manager, "#/business")
    page.get_by_role("link", name="Data in and out").click()
    choose(page, LIST.replace("4,6;2", "46;2"))
    wrong = page.get_by_role("region", name="What is wrong").locator("tbody tr")
    expect(wrong).to_contain_text("did you mean 4.6")
    expect(wrong.locator("td").first).to_have_text("2")
    expect(page.get_by_role("button", name="Take in")).not_to_be_visible()
    seen_by_all()
    keep_picture(page, "data-wrong")
    choose(page, LIST)
    expect(page.get_by_text("semicolon between cells")).to_be_visible()
    expect(page.get_by_text("decimal comma (4,6 is 4.6)")).to_be_visible()
    expect(page.locator("tr", has_text="R52")).to_contain_text("stock: 3 → 1")
    seen_by_all()
    keep_picture(page, "data-plan")
    page.get_by_role("button", name="Take in 2 springs").click()
    expect(page.locator("#state")).to_have_text("Taken in: 1 new, 1 changed.")
    stocks = {one.code: one.stock for one in everywhere(StockSpring, why=WHY)}
    assert stocks == {"F460": 2, "R52": 1}


def test_an_owner_takes_everything_out_and_may_call_it_off(enter, owner, shop):
    CustomerFactory(business=shop.business, name="Ottilie Marsh")
    page = enter(owner, "#/data")
    with page.expect_download() as given:
        page.get_by_role("button", name="Take everything out").click()
    with zipfile.ZipFile(io.BytesIO(given.value.path().read_bytes())) as packed:
        assert b"Ottilie Marsh" in packed.read("tables/setups.customer.jsonl")
    expect(page.locator("#state")).to_have_text("The whole business is in the file.")
    page.route("**/api/export/", lambda route: None)
    page.get_by_role("button", name="Take everything out").click()
    page.get_by_role("button", name="Call it off").click()
    expect(page.locator("#state")).to_have_text("Called off; no file was made.")


def test_a_customer_is_erased_and_the_tablet_forgets(enter, manager, shop, seen_by_all):
    customer = CustomerFactory(business=shop.business, name="Ottilie Marsh")
    RiderFactory(customer=customer, name="Ottilie Marsh")
    page = enter(manager, f"#/customers/{customer.pk}")
    page.get_by_role("button", name="Change", exact=True).click()
    page.get_by_label("Notes for the workshop").fill("Rings after six.")
    page.get_by_role("button", name="Back").click()
    assert "Rings after six" in page.evaluate("JSON.stringify(localStorage)")
    page.get_by_role("button", name="Erase personal data").click()
    expect(page.get_by_text("What stays:")).to_be_visible()
    seen_by_all()
    keep_picture(page, "erasing")
    page.get_by_label("Reason").fill("Ottilie asked.")
    page.get_by_role("button", name="Erase", exact=True).click()
    page.get_by_role("dialog").get_by_role("button", name="Erase it").click()
    expect(page.get_by_text("The reason names the customer")).to_be_visible()
    page.get_by_label("Reason").fill("Asked for in writing.")
    page.get_by_role("button", name="Erase", exact=True).click()
    page.get_by_role("dialog").get_by_role("button", name="Erase it").click()
    expect(page.get_by_role("heading", name="Erased customer")).to_be_visible()
    assert everywhere(Customer, why=WHY).get(pk=customer.pk).name == "(erased)"
    page.reload()
    expect(page.get_by_role("heading", name="Erased customer")).to_be_visible()
    assert "Rings after six" not in page.evaluate("JSON.stringify(localStorage)")
