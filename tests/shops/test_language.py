"""Which language somebody is spoken to in: the browser's, one's own, the shop's."""

from __future__ import annotations

import pytest
from django.utils import translation

from calc.words import number, say, say_of
from shops.models import AuditEntry
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db
GERMAN = {"HTTP_ACCEPT_LANGUAGE": "de-CH,de;q=0.9"}


def test_before_the_sign_in_it_is_the_browsers(anonymous):
    assert anonymous.get("/api/session/", **GERMAN).json()["language"] == "de"
    assert anonymous.get("/api/session/", HTTP_ACCEPT_LANGUAGE="fr").json()["language"] == "en"
    answer = anonymous.get("/api/session/")
    assert (answer.json()["language"], answer["Content-Language"]) == ("en", "en")
    assert "Accept-Language" in answer["Vary"]


def test_the_shops_language_goes_before_the_browsers_and_ones_own_before_the_shops(anonymous, technician):
    body = {"email": technician.email, "password": PASSWORD}
    assert anonymous.post("/api/session/", body, **GERMAN).json()["language"] == "en"
    technician.shop.language = "de"
    technician.shop.save()
    answer = anonymous.get("/api/session/")
    assert (answer.json()["language"], answer["Content-Language"]) == ("de", "de")
    chosen = anonymous.patch("/api/session/language/", {"language": "en"})
    assert chosen.status_code == 200, chosen.content
    assert (chosen.json()["language"], chosen.json()["person"]["language"]) == ("en", "en")
    assert anonymous.patch("/api/session/language/", {"language": ""}).json()["language"] == "de"
    assert anonymous.patch("/api/session/language/", {"language": "xx"}).status_code == 400
    lines = AuditEntry.objects.filter(verb="choose language").declare_scope()
    assert [(line.before, line.after) for line in lines.order_by("id")] == [
        ({"language": ""}, {"language": "en"}), ({"language": "en"}, {"language": ""}),
    ]


def test_a_manager_sets_the_shops_language_and_a_technician_does_not(shop, manager_client, technician_client):
    address, match = f"/api/shops/{shop.pk}/", {"HTTP_IF_MATCH": '"1"'}
    assert technician_client.patch(address, {"language": "de"}, **match).status_code == 403
    answer = manager_client.patch(address, {"language": "de"}, **match)
    assert answer.status_code == 200, answer.content
    assert answer.json()["language"] == "de"


def test_numbers_in_sentences_have_the_languages_signs():
    with translation.override("de"):
        assert number(1234.5, ",.2f") == "1.234,50"
        assert say("{x:.1f} against {name}", x=4.56, name="2.5") == "4,6 against 2.5"
    assert number(1234.5, ",.2f") == "1,234.50"
    assert say_of(1, "{n} of it", "{n} of them") == "1 of it"
    assert say_of(3, "{n} of it", "{n} of them") == "3 of them"
