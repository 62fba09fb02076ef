"""The second factor: against RFC 6238's own test values, and against whoever tries to get past it."""

from __future__ import annotations

import threading
from datetime import timedelta
from urllib.parse import parse_qs, unquote, urlsplit

import pytest
from django.db import connections
from django.utils import timezone
from rest_framework.test import APIClient

from shops import second_factor, verbs
from shops.access import everywhere, rows
from shops.keys import RecoveryCode, SecondFactor
from shops.models import AuditEntry
from shops.tokens import digest
from shops.trail import Actor
from tests.factories import PASSWORD
from tests.shops.cases import problem_codes

# RFC 6238, appendix B, the SHA-1 rows: key "12345678901234567890"; the last six of their eight digits, which is what
# truncation to six gives (RFC 4226, section 5.3: the number modulo 10^digits).
RFC_KEY = b"12345678901234567890".hex()
RFC_CODES = {59: "287082", 1111111109: "081804", 1111111111: "050471", 1234567890: "005924", 2000000000: "279037"}


@pytest.fixture
def at(monkeypatch):
    """Return the setter of the time that codes are computed for."""

    def at(seconds):
        monkeypatch.setattr(second_factor, "time", type("Clock", (), {"time": staticmethod(lambda: seconds)}))

    return at


@pytest.fixture
def guarded(manager, at):
    """Return the manager with RFC 6238's key as second factor, at the time 1111111111 of its test values."""
    SecondFactor.objects.create(person=manager, key=RFC_KEY, on_since=timezone.now())
    at(1111111111)
    return manager


def sign_in(client, person, code=None):
    body = {"email": person.email, "password": PASSWORD}
    return client.post("/api/session/", body if code is None else {**body, "second_factor": code})


@pytest.mark.parametrize(("seconds", "code"), RFC_CODES.items())
def test_the_codes_are_those_of_the_standard(anonymous, guarded, at, seconds, code):
    at(seconds)
    assert problem_codes(sign_in(anonymous, guarded, str((int(code) + 1) % 10**6).zfill(6))) == ["wrong_code"]
    assert sign_in(anonymous, guarded, code).status_code == 200


def test_the_password_alone_is_not_enough_and_begins_nothing(anonymous, guarded):
    answer = sign_in(anonymous, guarded)
    assert answer.status_code == 400
    assert problem_codes(answer) == ["code_needed"]
    assert anonymous.get("/api/session/").json()["person"] is None
    assert "sessionid" not in anonymous.cookies


def test_a_wrong_password_does_not_tell_that_there_is_a_second_factor(anonymous, guarded):
    body = {"email": guarded.email, "password": "wrong", "second_factor": RFC_CODES[1111111111]}
    assert problem_codes(anonymous.post("/api/session/", body)) == ["wrong_sign_in"]
    assert everywhere(SecondFactor, why="test").get().last_step == -1


def test_a_code_is_taken_once(anonymous, guarded):
    assert sign_in(anonymous, guarded, RFC_CODES[1111111111]).status_code == 200
    assert problem_codes(sign_in(APIClient(), guarded, RFC_CODES[1111111111])) == ["wrong_code"]


def test_nor_is_an_older_one_after_it(anonymous, guarded):
    """081804 is the code of the step just before, and would be taken for a clock that runs late."""
    assert sign_in(APIClient(), guarded, RFC_CODES[1111111111]).status_code == 200
    assert problem_codes(sign_in(APIClient(), guarded, RFC_CODES[1111111109])) == ["wrong_code"]


def test_a_code_of_the_step_before_is_taken_for_a_clock_that_differs(anonymous, guarded):
    assert sign_in(anonymous, guarded, RFC_CODES[1111111109]).status_code == 200


@pytest.mark.parametrize("ahead", [90, -90, 3600])
def test_a_code_of_another_time_is_not(anonymous, guarded, at, ahead):
    at(1111111111 + ahead)
    assert problem_codes(sign_in(anonymous, guarded, RFC_CODES[1111111111])) == ["wrong_code"]


@pytest.mark.django_db(transaction=True)
def test_of_two_who_send_one_code_at_once_one_gets_in(guarded):
    told = []

    def enter():
        try:
            told.append(sign_in(APIClient(), guarded, RFC_CODES[1111111111]).status_code)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=enter) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert told.count(200) == 1


@pytest.mark.parametrize("code", ["", "1", "12345", "1234567", "abcdef", "٠٥٠٤٧١", "-50471", "5e4711", "0x1234"])
def test_what_is_no_code_is_refused(anonymous, guarded, code):
    answer = sign_in(anonymous, guarded, code)
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["value"] is None
    assert answer.json()["problems"][0]["field"] == "second_factor"


def test_guessing_codes_is_locked_even_for_the_right_one(anonymous, guarded):
    for _ in range(second_factor.TRIES):
        assert problem_codes(sign_in(anonymous, guarded, "111111")) == ["wrong_code"]
    answer = sign_in(anonymous, guarded, RFC_CODES[1111111111])
    assert answer.status_code == 429
    assert problem_codes(answer) == ["locked"]
    past = timezone.now() - second_factor.LOCKED_FOR - timedelta(seconds=1)
    everywhere(SecondFactor, why="test").update(wrong_at=past)
    assert sign_in(anonymous, guarded, RFC_CODES[1111111111]).status_code == 200


def test_turning_it_on(manager_client, manager, client_for, owner, at):
    elsewhere = client_for(manager)
    begun = manager_client.post("/api/session/second-factor/")
    assert begun.status_code == 201, begun.content
    assert begun.json()["picture"].startswith("<svg")
    factor = everywhere(SecondFactor, why="test").get()
    said = urlsplit(second_factor.address(factor))
    # The form that code apps read: otpauth://totp/ISSUER:ACCOUNT?secret=BASE32&issuer=ISSUER (common practice).
    assert (said.scheme, said.netloc, unquote(said.path)) == ("otpauth", "totp", "/Coilbook:imke@springwell.example")
    assert parse_qs(said.query)["secret"] == [begun.json()["key"].replace(" ", "")]
    assert sign_in(APIClient(), manager).status_code == 200  # nothing is asked before a code has come back
    everywhere(SecondFactor, why="test").update(key=RFC_KEY)
    at(1111111111)
    wrong = manager_client.post("/api/session/second-factor/on/", {"second_factor": "111111"})
    assert problem_codes(wrong) == ["wrong_code"]
    answer = manager_client.post("/api/session/second-factor/on/", {"second_factor": "050471"})
    assert answer.status_code == 200, answer.content
    codes = answer.json()["recovery_codes"]
    assert len(set(codes)) == 10
    assert all(len(code.replace("-", "")) == 16 for code in codes)  # 16 of 32 letters: 80 bits
    assert manager_client.get("/api/tools/").status_code == 200
    assert elsewhere.get("/api/tools/").status_code == 401
    assert problem_codes(sign_in(APIClient(), manager)) == ["code_needed"]
    again = manager_client.post("/api/session/second-factor/")
    assert (again.status_code, problem_codes(again)) == (409, ["second_factor_on"])
    kept = str([vars(line) for line in rows(AuditEntry, owner)])
    assert begun.json()["key"].replace(" ", "") not in kept
    assert codes[0] not in kept


def test_recovery_codes_are_kept_as_digests_and_open_once(anonymous, guarded, owner):
    code, *_ = second_factor.renew_codes(Actor(guarded))
    plain = code.replace("-", "")
    assert set(everywhere(RecoveryCode, why="test").values_list("used_at", flat=True)) == {None}
    assert everywhere(RecoveryCode, why="test").filter(code_sha256=digest(plain)).count() == 1
    assert sign_in(anonymous, guarded, code.lower()).status_code == 200
    assert problem_codes(sign_in(APIClient(), guarded, code)) == ["wrong_code"]
    assert rows(AuditEntry, owner).filter(verb="use recovery code").count() == 1
    assert anonymous.get("/api/session/second-factor/").json()["codes_left"] == 9


def test_another_persons_recovery_code_opens_nothing(anonymous, guarded, owner):
    SecondFactor.objects.create(person=owner, key="ab" * 20, on_since=timezone.now())
    code, *_ = second_factor.renew_codes(Actor(owner))
    assert problem_codes(sign_in(anonymous, guarded, code)) == ["wrong_code"]


def test_new_recovery_codes_replace_the_old_ones(anonymous, guarded, client_for):
    client = client_for(guarded)
    old, *_ = second_factor.renew_codes(Actor(guarded))
    answer = client.post("/api/session/second-factor/codes/", {"second_factor": "050471"})
    assert answer.status_code == 200, answer.content
    assert problem_codes(sign_in(anonymous, guarded, old)) == ["wrong_code"]


def test_turning_it_off_needs_password_and_code(guarded, client_for):
    client = client_for(guarded)
    address = "/api/session/second-factor/"
    assert problem_codes(client.delete(address, {"password": PASSWORD})) == ["code_needed"]
    wrong = client.delete(address, {"password": "wrong", "second_factor": "050471"})
    assert problem_codes(wrong) == ["wrong_password"]
    assert client.delete(address, {"password": PASSWORD, "second_factor": "050471"}).status_code == 204
    assert sign_in(APIClient(), guarded).status_code == 200
    assert not everywhere(RecoveryCode, why="test").exists()


def test_confirming_in_a_session_asks_for_the_code_too(guarded, client_for):
    client = client_for(guarded)
    session = client.session
    session["hands_full_until"] = 0
    session.save()
    assert problem_codes(client.post("/api/session/full/", {"password": PASSWORD})) == ["code_needed"]
    assert client.get("/api/session/").json()["full"] is False
    body = {"password": PASSWORD, "second_factor": "050471"}
    assert client.post("/api/session/full/", body).json()["full"] is True


def test_an_owner_turns_it_off_for_somebody_who_lost_the_device(guarded, owner_client, manager_client, owner):
    address = f"/api/people/{guarded.pk}/second-factor-off/"
    assert manager_client.post(address).status_code == 403
    assert owner_client.get(f"/api/people/{guarded.pk}/").json()["second_factor"] is True
    assert owner_client.post(address).json()["second_factor"] is False
    assert sign_in(APIClient(), guarded).status_code == 200
    [line] = rows(AuditEntry, owner).filter(verb="turn second factor off")
    assert (line.person_id, line.subject_id) == (owner.pk, guarded.pk)


def test_who_has_one_is_not_for_technicians_to_see(guarded, technician_client):
    assert technician_client.get(f"/api/people/{guarded.pk}/").json()["second_factor"] is None


def test_where_it_is_asked_of_a_role_nothing_else_works_first(settings, manager_client, technician_client, at):
    settings.SECOND_FACTOR_FOR = ["manager", "owner"]
    assert technician_client.get("/api/tools/").status_code == 200
    assert problem_codes(manager_client.get("/api/tools/")) == ["second_factor_due"]
    assert manager_client.get("/api/session/").json()["person"]["second_factor_due"] is True
    assert manager_client.post("/api/session/second-factor/").status_code == 201
    everywhere(SecondFactor, why="test").update(key=RFC_KEY)
    at(1111111111)
    manager_client.post("/api/session/second-factor/on/", {"second_factor": "050471"})
    assert manager_client.get("/api/tools/").status_code == 200


def test_a_key_that_was_never_confirmed_asks_nothing_and_is_made_anew(manager_client, manager):
    first = manager_client.post("/api/session/second-factor/").json()["key"]
    assert manager_client.post("/api/session/second-factor/").json()["key"] != first
    assert sign_in(APIClient(), manager).status_code == 200


def test_it_goes_with_whoever_leaves(guarded, owner):
    second_factor.renew_codes(Actor(guarded))
    verbs.change_person(Actor(owner), guarded, guarded.version, {"is_active": False})
    assert not everywhere(SecondFactor, why="test").exists()
    assert not everywhere(RecoveryCode, why="test").exists()
