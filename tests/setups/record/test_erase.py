"""Erasing personal values: they are gone everywhere, and the record holds on without them."""

from __future__ import annotations

import pytest

from setups.models import PersonalValue, StoredPdf
from setups.record import links
from setups.record.page import page_of
from setups.record.verify import verify_shop
from tests.setups.record import invented

pytestmark = pytest.mark.django_db


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
