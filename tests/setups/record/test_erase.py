"""Erasing personal values: they are gone everywhere, and the record holds on without them."""

from __future__ import annotations

import json

import pytest

from calc.refusal import Refusal
from setups.data import inventory
from setups.data.rows import written
from setups.models import PersonalValue, StoredPdf
from setups.record import links, pdf, seal
from setups.record.correction import put
from setups.record.document import TEXTS, build
from setups.record.page import page_of
from setups.record.reading import links_of, read
from setups.record.verify import verify_shop
from setups.verbs import photos
from shops.access import everywhere
from shops.models import AuditEntry
from tests.setups.record import invented
from tests.setups.test_photos import encoded, picture

pytestmark = pytest.mark.django_db
WHY = "a test looks everywhere"


def test_what_is_erased_is_gone_and_the_record_still_holds(sealed, manager_client, actor, shop):
    link, _ = links.share(actor, sealed.card, days=1, share_mass=True)
    assert invented.OWNER in page_of(link)["html"]
    StoredPdf.objects.create(record=sealed, content=b"a PDF with a name on it")

    answer = manager_client.post(
        f"/api/cards/{sealed.card_id}/erasure/", {"why": "The customer asked for it."}, format="json"
    )

    assert answer.status_code == 200
    left = PersonalValue.objects.filter(record=sealed).declare_scope()
    assert {(one.value, one.salt, one.erased_at is None) for one in left} == {(None, "", False)}
    html = page_of(link)["html"]
    for personal in (invented.OWNER, invented.PLATE, invented.FRAME, f"{invented.MASS_KG} kg"):
        assert personal not in html
    assert not StoredPdf.objects.filter(record=sealed).declare_scope().exists()
    assert verify_shop(shop).failure is None


def test_erasing_is_for_managers_and_needs_a_reason(sealed, manager_client, technician_client):
    path = f"/api/cards/{sealed.card_id}/erasure/"
    assert technician_client.post(path, {"why": "x"}, format="json").status_code == 403
    assert manager_client.post(path, {"why": " "}, format="json").status_code == 400


TOLD = {
    "complaint": "Ilse says that it dives and frightens her.",
    "explanation": "Told Ilse to brake earlier.",
    "internal_notes": "She rang twice.",
    "next_service_note": "Ring her in May.",
    "cases": [{"label": "with her brother", "mass_kg": 62.0, "rear_share": 0.9}],
}
CAPTION = "Her left glove beside the nick"


@pytest.fixture
def told(make_ready_card, actor):
    """Return the sealed record of a card whose words are about its customer, with a photo and two amendments."""
    card = make_ready_card(**TOLD)
    photos.add_photo(actor, card, encoded(picture()), about="defect", caption=CAPTION)
    record = seal.seal(actor, card)
    seal.amend(actor, card, path="complaint", new="Ilse says that it bottoms.", why="Misheard.")
    seal.amend(actor, card, path="internal.internal_notes", new="She rang three times.", why="Miscounted.")
    return record


WORDS = (
    "frightens her", "brake earlier", "She rang", "Ring her", "her brother", "left glove", "that it bottoms",
)  # fmt: skip


class TestWords:
    def test_they_stand_in_no_sealed_text_and_are_laid_out_all_the_same(self, told, actor, manager_client):
        for record in told.card.records.all():
            assert not [word for word in WORDS if word in record.public + record.internal]
        link, _ = links.share(actor, told.card, days=1, share_mass=False)
        html = page_of(link)["html"]
        laid_out = pdf.context(read(links_of(told.card)), "https://x.example/record")
        assert laid_out["record"]["explanation"] == TOLD["explanation"]
        assert [(one.old, one.new) for one in laid_out["amendments"] if one.change] == [
            (TOLD["complaint"], "Ilse says that it bottoms.")
        ]
        for word in ("frightens her", "brake earlier", "Ring her", "her brother", "that it bottoms"):
            assert word in html
        assert "She rang" not in html
        answer = manager_client.get(f"/api/cards/{told.card_id}/record/").json()
        assert answer["texts"]["complaint"] == TOLD["complaint"]
        assert answer["texts"]["photos.0.caption"] == CAPTION
        assert answer["amendments"][1]["personal"]["internal.amendment.new"] == "She rang three times."

    @pytest.mark.parametrize("of", ["record", "customer"])
    def test_erased_they_are_gone_everywhere_and_said_to_be(self, told, actor, manager_client, shop, of):
        link, _ = links.share(actor, told.card, days=1, share_mass=False)
        address = f"/api/cards/{told.card_id}/" if of == "record" else f"/api/customers/{told.card.customer_id}/"
        assert manager_client.post(f"{address}erasure/", {"why": "Asked for."}, format="json").status_code == 200
        everything = json.dumps([list(written(model, None, secrets=True)) for model in inventory.backed_up()])
        assert not [word for word in WORDS if word in everything]
        html = page_of(link)["html"]
        assert not [word for word in WORDS if word in html]
        assert html.count("Erased on request") >= 3
        sealed = read(links_of(told.card))
        assert pdf.context(sealed, "https://x.example/record")["record"]["complaint"] == "Erased on request"
        assert ("Customer", "Erased on request") in pdf.facts(sealed.record, sealed.personal)
        assert sealed.texts
        assert manager_client.get(f"/api/cards/{told.card_id}/record/").json()["texts"] == {}
        assert manager_client.get(f"/api/cards/{told.card_id}/").status_code == 200
        assert verify_shop(shop).failure is None

    def test_an_erased_text_is_not_amended(self, told, actor, manager_client):
        manager_client.post(f"/api/cards/{told.card_id}/erasure/", {"why": "Asked for."}, format="json")
        with pytest.raises(Refusal) as refusal:
            seal.amend(actor, told.card, path="complaint", new="It dives.", why="Written anew.")
        assert [one.code for one in refusal.value.problems] == ["erased"]

    def test_the_trail_never_held_them(self, told):
        kept = json.dumps([[one.before, one.after, one.reason] for one in everywhere(AuditEntry, why=WHY)])
        assert not [word for word in WORDS if word in kept]

    @pytest.mark.parametrize(
        "why", ["Ilse Marrant misread it.", "frau marrant rang", f"Plate {invented.PLATE} was wrong."]
    )
    def test_a_reason_that_is_kept_for_ever_names_nobody(self, told, actor, why):
        with pytest.raises(Refusal) as refusal:
            seal.amend(actor, told.card, path="torques.0.value_nm", new=21, why=why)
        assert [(one.field, one.code) for one in refusal.value.problems] == [("why", "personal")]


class TestTheFirstFormat:
    """Records sealed before words were committed to: they hold them in the clear, and go on verifying."""

    @pytest.fixture
    def old(self, make_ready_card, actor, monkeypatch):
        monkeypatch.setattr(seal, "build", first_format)
        return seal.seal(actor, make_ready_card(**TOLD))

    def test_it_verifies_and_is_laid_out(self, old, actor, shop):
        assert TOLD["complaint"] in old.public
        assert verify_shop(shop).failure is None
        link, _ = links.share(actor, old.card, days=1, share_mass=False)
        assert "frightens her" in page_of(link)["html"]
        seal.amend(actor, old.card, path="complaint", new="It bottoms.", why="Misheard.")
        assert verify_shop(shop).failure is None
        assert read(links_of(old.card)).amendments[0].new == "It bottoms."

    def test_what_is_laid_out_follows_an_erasure_and_it_still_verifies(self, old, actor, shop, manager_client):
        link, _ = links.share(actor, old.card, days=1, share_mass=False)
        manager_client.post(f"/api/cards/{old.card_id}/erasure/", {"why": "Asked for."}, format="json")
        html = page_of(link)["html"]
        assert not [word for word in WORDS if word in html]
        assert "Erased on request" in html
        # Its own text cannot be attached any more.
        assert read(links_of(old.card)).texts == {}
        answer = manager_client.get(f"/api/cards/{old.card_id}/record/").content.decode()
        assert not [word for word in WORDS if word in answer]
        assert verify_shop(shop).failure is None


def first_format(gathered, heading):
    """Return the documents as the first format had them: the same, with the words in the clear."""
    documents = build(gathered, heading)
    left = []
    for one in documents.personal:
        part, _, place = one.path.partition(".")
        document = getattr(documents, part)
        if TEXTS.fullmatch(place):
            put(document, place, one.value)
        else:
            left.append(one)
        document["format"] = "coilbook-record/1"
    documents.personal = left
    return documents
