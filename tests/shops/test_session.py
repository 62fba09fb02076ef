"""Signing in and out, being locked out, and being put out."""

from __future__ import annotations

import pytest
from django.contrib import auth
from django.contrib.auth.hashers import identify_hasher
from django.contrib.sessions.backends.db import SessionStore
from rest_framework.test import APIClient

from shops import verbs
from shops.access import rows
from shops.models import AuditEntry, Person
from shops.trail import Actor
from shops.web.throttle import WrongSignIns
from tests.factories import PASSWORD

NOBODY = {"person": None, "full": False, "tablet": None, "lock_after_s": 300, "language": "en"}


def sign_in(client, email, password=PASSWORD):
    return client.post("/api/session/", {"email": email, "password": password})


def test_nobody_is_signed_in_at_first(anonymous, db):
    answer = anonymous.get("/api/session/")
    assert answer.status_code == 200
    assert answer.json() == NOBODY
    assert answer.cookies["csrftoken"].value


def test_signing_in_and_out(anonymous, technician):
    answer = sign_in(anonymous, "ANSEL@springwell.example ")
    assert answer.status_code == 200, answer.content
    person = answer.json()["person"]
    assert person["name"] == "Ansel Thorpe"
    assert person["business"]["name"] == "Springwell"
    assert person["shop"] == {
        "id": technician.shop_id, "name": "Harbour Yard", "code": "HY", "paper": "A4", "time_zone": "UTC",
        "language": "en",
    }
    assert anonymous.get("/api/session/").json()["person"]["id"] == technician.id
    assert anonymous.delete("/api/session/").status_code == 204
    assert anonymous.get("/api/session/").json() == NOBODY


@pytest.mark.parametrize(("email", "password"), [
    ("ansel@springwell.example", "mistyped"), ("nobody@springwell.example", PASSWORD),
])
def test_wrong_password_and_unknown_address_answer_the_same(anonymous, technician, email, password):
    answer = sign_in(anonymous, email, password)
    assert answer.status_code == 400
    [problem] = answer.json()["problems"]
    assert problem["code"] == "wrong_sign_in"
    assert password not in answer.content.decode()


def test_an_inactive_person_cannot_sign_in(anonymous, technician):
    technician.is_active = False
    technician.save()
    assert sign_in(anonymous, technician.email).status_code == 400


def test_a_session_ends_at_once_when_its_person_is_made_inactive(technician_client, technician, manager):
    assert technician_client.get("/api/tools/").status_code == 200
    verbs.change_person(Actor(manager), technician, technician.version, {"is_active": False})
    answer = technician_client.get("/api/tools/")
    assert answer.status_code == 401
    assert answer.json()["problems"][0]["code"] == "sign_in"
    assert not rows(Person, technician).exists()


def test_a_new_password_ends_every_other_session(client_for, anonymous, technician):
    elsewhere = client_for(technician)
    sign_in(anonymous, technician.email)
    answer = anonymous.post("/api/session/password/", {"current": PASSWORD, "new": "quince hammer eleven"})
    assert answer.status_code == 204, answer.content
    assert anonymous.get("/api/tools/").status_code == 200
    assert elsewhere.get("/api/tools/").status_code == 401
    assert sign_in(APIClient(), technician.email, "quince hammer eleven").status_code == 200


@pytest.mark.parametrize("new", ["short", "password1234", "ansel thorpe"])
def test_a_weak_password_is_refused_and_never_repeated(technician_client, new):
    answer = technician_client.post("/api/session/password/", {"current": PASSWORD, "new": new})
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["field"] == "new"
    assert answer.json()["problems"][0]["value"] is None


def test_the_current_password_must_be_right(technician_client):
    body = {"current": "wrong", "new": "quince hammer eleven"}
    answer = technician_client.post("/api/session/password/", body)
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["code"] == "wrong_password"


def test_guessing_is_locked_out_for_a_while_even_with_the_right_password(settings, anonymous, technician):
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        assert sign_in(anonymous, technician.email, "wrong").status_code == 400
    answer = sign_in(anonymous, technician.email, "wrong")
    assert answer.status_code == 429
    assert answer.json()["problems"][0]["code"] == "locked"
    right = sign_in(anonymous, technician.email.upper())
    assert right.status_code == 429
    assert right.json()["problems"][0]["code"] == "locked"
    assert anonymous.get("/api/session/").json() == NOBODY


def test_trying_many_people_from_one_address_is_locked_out_too(anonymous, technician, monkeypatch):
    """One password tried on everybody never fills one person's count; what X-Forwarded-For says is no address."""
    monkeypatch.setattr(WrongSignIns, "rate", "3/hour")
    assert sign_in(anonymous, technician.email).status_code == 200
    for number in range(3):
        forged = {"HTTP_X_FORWARDED_FOR": f"192.0.2.{number}"}
        body = {"email": f"nobody{number}@springwell.example", "password": "wrong"}
        assert anonymous.post("/api/session/", body, **forged).status_code == 400
    answer = sign_in(anonymous, technician.email)
    assert answer.status_code == 429
    assert answer.json()["problems"][0]["code"] == "locked"
    elsewhere = anonymous.post(
        "/api/session/", {"email": technician.email, "password": PASSWORD}, REMOTE_ADDR="192.0.2.99"
    )
    assert elsewhere.status_code == 200


def test_a_try_is_counted_before_it_is_looked_at(anonymous, technician, monkeypatch):
    """Requests sent together must not all be let through before the first of them is found wrong."""
    monkeypatch.setattr(WrongSignIns, "rate", "1/hour")
    together, authenticate = [], auth.authenticate

    def meanwhile(*args, **kwargs):
        if not together:
            together.append(None)
            together[0] = sign_in(APIClient(), technician.email, "wrong too")
        return authenticate(*args, **kwargs)

    monkeypatch.setattr(auth, "authenticate", meanwhile)
    assert sign_in(anonymous, technician.email, "wrong").status_code == 400
    assert together[0].status_code == 429


def test_a_session_that_was_planted_before_signing_in_is_not_taken_over(anonymous, technician):
    planted = SessionStore()
    planted["seen"] = True
    planted.save()
    anonymous.cookies["sessionid"] = planted.session_key
    assert sign_in(anonymous, technician.email).status_code == 200
    assert anonymous.cookies["sessionid"].value != planted.session_key
    assert not SessionStore().exists(planted.session_key)


def test_signing_in_needs_the_csrf_token(technician):
    client = APIClient(enforce_csrf_checks=True)
    client.get("/api/session/")
    refused = sign_in(client, technician.email)
    assert refused.status_code == 403
    [problem] = refused.json()["problems"]
    assert problem["code"] == "csrf"
    assert "reload the page" in problem["text"]
    token = client.cookies["csrftoken"].value
    answer = client.post(
        "/api/session/", {"email": technician.email, "password": PASSWORD}, HTTP_X_CSRFTOKEN=token
    )
    assert answer.status_code == 200
    assert client.patch("/api/session/units/", {"rate": "kgf/mm"}).status_code == 403


def test_choosing_units(technician_client, technician):
    answer = technician_client.patch("/api/session/units/", {"rate": "kgf/mm"})
    assert answer.status_code == 200
    units = answer.json()["person"]["units"]
    assert units["rate"] == "kgf/mm"
    assert units["length"] == "mm"
    technician.refresh_from_db()
    assert technician.units["rate"] == "kgf/mm"
    [line] = rows(AuditEntry, technician)
    assert line.verb == "choose units"


@pytest.mark.parametrize("body", [{"rate": "furlong"}, {"speed": "knots"}, {"rate": 3}, []])
def test_an_unknown_unit_is_refused(technician_client, technician, body):
    answer = technician_client.patch("/api/session/units/", body)
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["text"]
    assert not rows(AuditEntry, technician).exists()


def test_passwords_are_kept_with_argon2(settings, technician):
    from shops.site import settings as ours  # noqa: PLC0415  the real list, not the quick one of the tests

    settings.PASSWORD_HASHERS = ours.PASSWORD_HASHERS
    technician.set_password(PASSWORD)
    assert identify_hasher(technician.password).algorithm == "argon2"


def test_anonymous_people_are_told_to_sign_in(anonymous, db):
    for name in ("shops", "people", "tools", "springs", "trail", "schema"):
        answer = anonymous.get(f"/api/{name}/")
        assert answer.status_code == 401, name
        assert answer.json()["problems"][0]["code"] == "sign_in"
        assert answer["WWW-Authenticate"] == "Session"
