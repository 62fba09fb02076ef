"""A forgotten password: by mail, by a manager's link, and what an attacker would learn or gain."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import mail
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from shops import recoveries
from shops.access import everywhere, rows
from shops.keys import Recovery, SecondFactor
from shops.models import AuditEntry
from shops.tokens import digest
from shops.trail import Actor
from shops.web import joining_views
from tests.factories import PASSWORD
from tests.shops.cases import problem_codes
from tests.shops.test_invitations import letters, secret_in

NEW = "quince hammer eleven"


@pytest.fixture
def ask(anonymous, django_capture_on_commit_callbacks):
    """Return the asking for a new password, with whatever letter goes out."""

    def ask(email, client=anonymous):
        with django_capture_on_commit_callbacks(execute=True):
            answer = client.post("/api/recovery/", {"email": email})
        return answer, list(letters())

    return ask


def use(client, secret, password=NEW):
    return client.post("/api/recovery/use/", {"secret": secret, "password": password})


def sign_in(person, password):
    return APIClient().post("/api/session/", {"email": person.email, "password": password})


def test_by_mail_from_end_to_end(ask, technician, client_for, owner):
    elsewhere = client_for(technician)
    answer, [letter] = ask(" ANSEL@springwell.example")
    assert answer.status_code == 202
    assert letter.to == [technician.email]
    secret = secret_in(letter.body)
    assert everywhere(Recovery, why="test").get().secret_sha256 == digest(secret)
    client = APIClient()
    assert use(client, secret).status_code == 204
    assert "sessionid" not in client.cookies  # it signs nobody in: a second factor is still to be asked for
    assert elsewhere.get("/api/tools/").status_code == 401
    assert sign_in(technician, PASSWORD).status_code == 400
    assert sign_in(technician, NEW).status_code == 200
    assert use(APIClient(), secret, "another hammer twelve").status_code == 404
    lines = rows(AuditEntry, owner)
    assert {"ask for a new password", "recover password"} <= {line.verb for line in lines}
    told = str([vars(line) for line in lines])
    assert secret not in told
    assert technician.email not in told


def test_the_answer_is_the_same_whoever_is_asked_for(ask, technician):
    known, sent = ask(technician.email)
    unknown, still = ask("nobody@springwell.example")
    assert (known.status_code, known.content) == (unknown.status_code, unknown.content)
    assert len(sent) == len(still) == 1
    technician.is_active = False
    technician.save()
    ask(technician.email)
    assert len(mail.outbox) == 1


def test_both_ways_of_asking_do_the_same_work(anonymous, technician):
    """No clock is read: the tables that are read and written are compared. The trail's line is the one more."""

    def work(email):
        with CaptureQueriesContext(connection) as caught:
            anonymous.post("/api/recovery/", {"email": email})
        kinds = [query["sql"].split()[0] for query in caught if "shops_auditentry" not in query["sql"]]
        return [kind for kind in kinds if kind in {"SELECT", "INSERT", "UPDATE", "DELETE"}]

    anonymous.post("/api/recovery/", {"email": "first@springwell.example"})
    assert work(technician.email) == work("nobody@springwell.example")


def test_an_unknown_address_opens_nothing(db):
    person, secret = recoveries.ask("nobody@springwell.example", None)
    assert person is None
    assert use(APIClient(), secret).status_code == 404


def test_one_address_is_sent_three_letters_an_hour_and_told_no_difference(ask, technician):
    told = [ask(technician.email) for _ in range(joining_views.LETTERS_AN_HOUR + 2)]
    assert {answer.status_code for answer, _ in told} == {202}
    assert len(mail.outbox) == joining_views.LETTERS_AN_HOUR


def test_asking_is_slowed_down_by_network_address(ask, db):
    told = [ask(f"nobody{n}@springwell.example")[0].status_code for n in range(11)]
    assert told == [202] * 10 + [429]


def test_it_expires_after_an_hour(anonymous, technician):
    _, secret = recoveries.ask(technician.email, None)
    held = everywhere(Recovery, why="test").get()
    assert timedelta(minutes=59) < held.expires_at - timezone.now() <= timedelta(hours=1)
    everywhere(Recovery, why="test").update(expires_at=timezone.now() - timedelta(seconds=1))
    assert use(anonymous, secret).status_code == 404


def test_using_one_closes_the_others(anonymous, technician):
    _, first = recoveries.ask(technician.email, None)
    _, second = recoveries.ask(technician.email, None)
    assert use(anonymous, second).status_code == 204
    assert use(anonymous, first, "another hammer twelve").status_code == 404


@pytest.mark.parametrize("password", ["short", "password1234", "ansel thorpe"])
def test_a_weak_password_is_refused_and_the_link_stays_open(anonymous, technician, password):
    _, secret = recoveries.ask(technician.email, None)
    answer = use(anonymous, secret, password)
    assert problem_codes(answer)[0] == "weak_password"
    assert answer.json()["problems"][0]["value"] is None
    assert use(anonymous, secret).status_code == 204


def test_it_does_not_get_past_the_second_factor(anonymous, manager):
    SecondFactor.objects.create(person=manager, key="ab" * 20, on_since=timezone.now())
    _, secret = recoveries.ask(manager.email, None)
    use(anonymous, secret)
    assert problem_codes(sign_in(manager, NEW)) == ["code_needed"]


def test_both_need_the_csrf_token(technician):
    client = APIClient(enforce_csrf_checks=True)
    assert problem_codes(client.post("/api/recovery/", {"email": technician.email})) == ["csrf"]
    assert problem_codes(use(client, "secret")) == ["csrf"]


def test_a_managers_link_is_shown_once_and_logged(manager_client, second_technician, anonymous, owner):
    answer = manager_client.post(f"/api/people/{second_technician.pk}/recovery/")
    assert answer.status_code == 201, answer.content
    secret = secret_in(answer.json()["url"])
    assert use(anonymous, secret).status_code == 204
    assert sign_in(second_technician, NEW).status_code == 200
    line = rows(AuditEntry, owner).get(verb="issue recovery link")
    assert line.subject_id == second_technician.pk
    assert secret not in str(vars(line))


def test_a_retry_of_asking_for_a_managers_link_keeps_no_secret(manager_client, second_technician):
    address = f"/api/people/{second_technician.pk}/recovery/"
    first = manager_client.post(address, HTTP_IDEMPOTENCY_KEY="k-1").json()["url"]
    assert manager_client.post(address, HTTP_IDEMPOTENCY_KEY="k-1").json()["url"] != first


@pytest.mark.parametrize(("whose", "code"), [("owner", 403), ("sister_technician", 403), ("stranger", 404)])
def test_a_manager_gives_no_link_for_whom_they_may_not_change(request, manager_client, whose, code):
    person = request.getfixturevalue(whose)
    assert manager_client.post(f"/api/people/{person.pk}/recovery/").status_code == code
    assert not everywhere(Recovery, why="test").exists()


def test_a_managers_link_for_who_has_left(manager_client, manager, second_technician):
    second_technician.is_active = False
    second_technician.save()
    answer = manager_client.post(f"/api/people/{second_technician.pk}/recovery/")
    assert (answer.status_code, problem_codes(answer)) == (409, ["has_left"])
    with pytest.raises(Exception, match="has left"):
        recoveries.issue(Actor(manager), second_technician)


def test_guessing_ones_own_password_in_a_stolen_session_is_locked_out(technician_client, settings):
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        technician_client.post("/api/session/password/", {"current": "wrong", "new": NEW})
    answer = technician_client.post("/api/session/password/", {"current": "wrong", "new": NEW})
    assert answer.status_code == 429


class TestLinksInAnOldMailbox:
    """Whoever reads a person's old mailbox must not come in by a link that was asked for before."""

    @pytest.fixture
    def secret(self, ask, technician):
        _, [letter] = ask(technician.email)
        return secret_in(letter.body)

    def test_a_new_password_closes_them(self, secret, technician_client):
        body = {"current": PASSWORD, "new": "elder anvil seventeen"}
        assert technician_client.post("/api/session/password/", body).status_code == 204
        assert use(APIClient(), secret).status_code == 404

    @pytest.mark.parametrize("change", [{"email": "moved@springwell.example"}, {"password": "elder anvil seventeen"}])
    def test_so_does_what_a_manager_changes(self, secret, manager_client, technician, change):
        at = f"/api/people/{technician.pk}/"
        assert manager_client.patch(at, change, HTTP_IF_MATCH=f'"{technician.version}"').status_code == 200
        assert use(APIClient(), secret).status_code == 404

    def test_another_name_does_not(self, secret, manager_client, technician):
        at = f"/api/people/{technician.pk}/"
        manager_client.patch(at, {"name": "Ansel T."}, HTTP_IF_MATCH=f'"{technician.version}"')
        assert use(APIClient(), secret).status_code == 204
