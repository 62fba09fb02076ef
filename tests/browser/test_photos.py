"""Photos on the tablet: of what, in words, of which reading; and erased for good from a sealed card."""

from __future__ import annotations

import io
import os
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import expect

from setups.photo_models import Photo
from setups.record import seal
from setups.verbs import photos
from shops.access import everywhere
from shops.trail import Actor
from tests.browser.devices import PHONE, TABLET
from tests.factories import JobCardFactory, ReadingFactory
from tests.setups.record.conftest import ready_card_maker

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WHY = "this test"
PATIENCE_MS = 30_000


def jpeg(colour="sienna"):
    out = io.BytesIO()
    Image.new("RGB", (640, 480), colour).save(out, "JPEG")
    return out.getvalue()


def take(page, about, colour="sienna"):
    page.locator(f"#photo-{about}").set_input_files({"name": "p.jpg", "mimeType": "image/jpeg", "buffer": jpeg(colour)})
    return page.get_by_role("dialog")


def shown(page, name):
    folder = os.environ.get("COILBOOK_SCREENS")
    for size, viewport in (("tablet", TABLET), ("phone", PHONE)) if folder else ():
        page.set_viewport_size(viewport)
        page.screenshot(path=Path(folder) / f"photos-{name}-{size}.png", full_page=True)
    page.set_viewport_size(TABLET)


def test_a_photo_is_kept_with_its_words_and_its_reading(page, enter, technician, shop, seen_by_all):
    page.set_default_timeout(PATIENCE_MS)
    card = JobCardFactory(shop=shop)
    reading = ReadingFactory(card=card, stage="received", quantity="wheel_free_mm", value=620)
    enter(technician, f"#/cards/{card.pk}/received")
    dialog = take(page, "defect")
    dialog.get_by_label("What it shows").fill("left stanchion, nick above the seal")
    shown(page, "dialog")
    dialog.get_by_role("button", name="Keep it", exact=True).click()
    expect(page.get_by_role("img", name="left stanchion, nick above the seal")).to_be_visible(timeout=PATIENCE_MS)
    # Thought better of, nothing is sent.
    take(page, "defect", "teal").get_by_role("button", name="Do not keep it").click()
    shown(page, "defect")

    page.goto("about:blank")
    enter(technician, f"#/cards/{card.pk}/measured")
    dialog = take(page, "reading", "olive")
    dialog.get_by_label("Which reading").select_option(index=1)
    seen_by_all()
    dialog.get_by_role("button", name="Keep it", exact=True).click()
    expect(page.locator(".photo-shows")).to_contain_text("620 mm", timeout=PATIENCE_MS)
    shown(page, "reading")
    kept = everywhere(Photo, why=WHY).filter(card=card).order_by("pk")
    assert [(one.about, one.caption, one.reading_id) for one in kept] == [
        ("defect", "left stanchion, nick above the seal", None),
        ("reading", "", reading.pk),
    ]


def test_a_manager_erases_a_sealed_cards_photo(page, enter, manager, technician, second_technician, shop):
    page.set_default_timeout(PATIENCE_MS)
    card = ready_card_maker(shop, technician, second_technician)()
    photos.add_photo(Actor(technician), card, jpeg(), about="defect", caption="her glove")
    seal.seal(Actor(technician), card)
    enter(manager, f"#/cards/{card.pk}/received")
    page.get_by_role("button", name="Erase").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Why").fill("Shows a face.")
    dialog.get_by_role("button", name="Erase it").click()
    expect(page.locator(".photos")).to_contain_text("Erased on request", timeout=PATIENCE_MS)
    shown(page, "erased")
    assert bytes(everywhere(Photo, why=WHY).get(card=card).content) == b""
