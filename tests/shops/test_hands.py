"""What counts as a full sign-in, how long, and when a session that nobody uses lapses."""

from __future__ import annotations

import pytest
from django.contrib.auth import BACKEND_SESSION_KEY

from shops import hands
from tests.factories import PASSWORD, JobCardFactory, TorqueLineFactory
from tests.shops.cases import problem_codes

NEW_PERSON = {"name": "Corin Ashdale", "email": "corin@springwell.example", "role": "technician",
              "password": "quince hammer eleven"}  # fmt: skip


@pytest.fixture
def clock(monkeypatch):
    """Return the clock that sessions go by: `clock.pass_by(seconds)` lets time go on."""

    class Clock:
        ahead = 0

        def pass_by(self, seconds):
            self.ahead += seconds

    real, held = hands.time.time, Clock()
    monkeypatch.setattr(hands.time, "time", lambda: real() + held.ahead)
    return held


def use(client, seconds, clock, times=1):
    """Use the session every `seconds`, so many times."""
    for _ in range(times):
        clock.pass_by(seconds)
        client.get("/api/session/")


def as_after_a_pin(client):
    """Make the client's session one that no password began."""
    session = client.session
    session[hands._FULL_UNTIL] = 0
    session.save()


def add_person(client, shop):
    return client.post("/api/people/", {**NEW_PERSON, "shop": shop.pk})


def test_a_session_begun_by_password_is_full_while_it_is_used(manager_client, shop, clock):
    use(manager_client, 200, clock, times=10)
    assert manager_client.get("/api/session/").json()["full"] is True
    assert add_person(manager_client, shop).status_code == 201


def test_left_alone_it_is_full_no_more_and_works_on(manager_client, shop, clock, settings):
    clock.pass_by(settings.IDLE_S + 1)
    assert manager_client.get("/api/tools/").status_code == 200
    answer = add_person(manager_client, shop)
    assert answer.status_code == 403
    assert problem_codes(answer) == ["full_sign_in"]


def test_a_confirmed_password_counts_for_ten_minutes_and_the_session_gets_a_new_key(manager_client, shop, clock):
    as_after_a_pin(manager_client)
    assert problem_codes(add_person(manager_client, shop)) == ["full_sign_in"]
    before = manager_client.cookies["sessionid"].value
    answer = manager_client.post("/api/session/full/", {"password": PASSWORD})
    assert answer.status_code == 200, answer.content
    assert answer.json()["full"] is True
    assert manager_client.cookies["sessionid"].value != before
    use(manager_client, 100, clock, times=5)
    assert add_person(manager_client, shop).status_code == 201
    use(manager_client, 101, clock)
    assert manager_client.get("/api/session/").json()["full"] is False


def test_the_key_before_confirming_is_never_full_and_good_for_a_moment_only(manager_client, shop, clock):
    """A page has requests on their way when the key changes; whoever saw the old key gains nothing by it."""
    as_after_a_pin(manager_client)
    before = manager_client.cookies["sessionid"].value
    manager_client.post("/api/session/full/", {"password": PASSWORD})
    after = manager_client.cookies["sessionid"].value
    manager_client.cookies["sessionid"] = before
    assert manager_client.get("/api/tools/").status_code == 200
    assert problem_codes(add_person(manager_client, shop)) == ["full_sign_in"]
    clock.pass_by(12)
    assert manager_client.get("/api/tools/").status_code == 401
    manager_client.cookies["sessionid"] = after
    assert add_person(manager_client, shop).status_code == 201


def test_a_wrong_password_confirms_nothing_and_guessing_is_locked_out(settings, manager_client, shop):
    as_after_a_pin(manager_client)
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        answer = manager_client.post("/api/session/full/", {"password": "wrong"})
        assert problem_codes(answer) == ["wrong_password"]
    assert manager_client.post("/api/session/full/", {"password": "wrong"}).status_code == 429
    assert manager_client.post("/api/session/full/", {"password": PASSWORD}).status_code == 429
    assert problem_codes(add_person(manager_client, shop)) == ["full_sign_in"]


def test_the_role_is_asked_before_the_full_sign_in(technician_client, shop):
    as_after_a_pin(technician_client)
    assert problem_codes(add_person(technician_client, shop)) == ["not_allowed"]


def test_a_session_lasts_no_longer_than_a_day_at_work_however_it_is_used(technician_client, clock, settings):
    nearly = settings.SESSION_COOKIE_AGE // 200 - 1
    use(technician_client, 200, clock, times=nearly)
    assert technician_client.get("/api/tools/").status_code == 200
    use(technician_client, 200, clock, times=2)
    assert technician_client.get("/api/tools/").status_code == 401


def test_what_no_password_began_is_not_full(technician, client_for):
    """Whatever else may sign somebody in one day: only the password's own backend makes a session full."""
    client = client_for(technician)
    assert client.session[BACKEND_SESSION_KEY] == hands.BY_PASSWORD
    session = client.session
    session.pop(hands._FULL_UNTIL)
    assert not hands.is_full(session)


SEALING = ("seal/", "amendments/", "erasure/", "torques/{line}/check/")


@pytest.mark.parametrize("what", SEALING)
def test_sealing_and_second_checks_ask_for_the_full_sign_in(manager_client, shop, what):
    line = TorqueLineFactory(card=JobCardFactory(shop=shop))
    address = f"/api/cards/{line.card_id}/{what.format(line=line.pk)}"
    as_after_a_pin(manager_client)
    assert problem_codes(manager_client.post(address, {})) == ["full_sign_in"]
    manager_client.post("/api/session/full/", {"password": PASSWORD})
    assert "full_sign_in" not in problem_codes(manager_client.post(address, {}))


def test_a_page_left_open_by_somebody_else_does_nothing_in_the_wrong_name(technician_client, technician, manager):
    for who, code in ((technician.pk, 200), (manager.pk, 401), ("", 401), ("x", 401)):
        assert technician_client.get("/api/tools/", HTTP_COILBOOK_PERSON=str(who)).status_code == code, who
    change = technician_client.patch("/api/session/units/", {"rate": "kgf/mm"}, HTTP_COILBOOK_PERSON=str(manager.pk))
    assert change.status_code == 401
    technician.refresh_from_db()
    assert technician.units["rate"] == "N/mm"
