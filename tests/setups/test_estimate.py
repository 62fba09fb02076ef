"""The estimate and the customer's yes: by an unguessable link, once, for exactly what was shown, and logged."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.utils import timezone

from setups import blockers, estimates
from setups.approval_models import Estimate, EstimateAsk, EstimateOpening
from setups.models import JobCard
from setups.record import seal
from setups.verbs.overriding import override
from setups.verbs.ownership import change_owner
from setups.web.record_views import OpeningThrottle
from shops import money
from shops.access import everywhere, rows
from shops.models import AuditEntry
from shops.trail import Actor
from tests.factories import CustomerFactory, JobCardFactory
from tests.setups.record import conftest as invented_record
from tests.shops.cases import problem_codes

make_ready_card = invented_record.make_ready_card
WHY = "this test"
LINES = [
    {"kind": "labour", "text": "Fork service, both legs", "amount_minor": 18_050},
    {"kind": "parts", "text": "Two fork springs", "amount_minor": 12_900},
]
TOTAL = "309.50 EUR"


@pytest.fixture(autouse=True)
def _unthrottled(monkeypatch):
    monkeypatch.setattr(OpeningThrottle, "rate", "1000/min")


@pytest.fixture
def card(shop):
    return JobCardFactory(shop=shop)


@pytest.fixture
def at(card):
    return f"/api/cards/{card.pk}/estimate/"


def write(client, at, lines=LINES, needs_approval=True, version=None):
    header = {"HTTP_IF_NONE_MATCH": "*"} if version is None else {"HTTP_IF_MATCH": f'"{version}"'}
    return client.put(at, {"needs_approval": needs_approval, "lines": lines}, **header)


@pytest.fixture
def asked(technician_client, at):
    """Return the secret of a link to the written estimate."""
    assert write(technician_client, at).status_code == 200
    answer = technician_client.post(f"{at}asks/", {})
    assert answer.status_code == 201, answer.content
    return answer.json()["url"].removeprefix("/record#e.")


def state(client, card):
    return client.get(f"/api/cards/{card.pk}/").json()["estimate"]["state"]


def answer(client, secret, said="approved"):
    return client.post("/api/estimate/answer/", {"secret": secret, "answer": said}, REMOTE_ADDR="203.0.113.7")


@pytest.mark.parametrize(
    ("minor", "currency", "text"),
    # Decimals of these currencies: ISO 4217.
    [(0, "EUR", "0.00 EUR"), (5, "EUR", "0.05 EUR"), (30_950, "EUR", TOTAL), (1_234, "JPY", "1,234 JPY"),
     (1_234, "KWD", "1.234 KWD"), (100_000_000, "CHF", "1,000,000.00 CHF")],
)  # fmt: skip
def test_an_amount_has_its_currencys_decimals(minor, currency, text):
    assert money.written(minor, currency) == text


class TestWriting:
    def test_it_stands_on_the_card_with_its_sum(self, technician_client, at):
        told = write(technician_client, at).json()["estimate"]
        assert (told["lines"], told["total_minor"], told["currency"], told["minor_digits"]) == (LINES, 30_950, "EUR", 2)
        assert (told["state"], told["version"], told["needs_approval"]) == ("not_asked", 1, True)

    def test_a_stale_version_shows_the_card_and_changes_nothing(self, technician_client, at, card):
        write(technician_client, at)
        for version in (None, 5):
            stale = write(technician_client, at, [], version=version)
            assert (stale.status_code, problem_codes(stale)) == (412, ["changed_meanwhile"])
            assert stale.json()["theirs"]["estimate"]["lines"] == LINES
        assert everywhere(Estimate, why=WHY).get(card=card).lines == LINES

    @pytest.mark.parametrize(
        "line",
        [
            {"kind": "tip", "text": "x", "amount_minor": 1},
            {"kind": "parts", "text": " ", "amount_minor": 1},
            {"kind": "parts", "text": "x", "amount_minor": -1},
            {"kind": "parts", "text": "x", "amount_minor": 1.5},
            {"kind": "parts", "text": "x", "amount_minor": "1"},
            {"kind": "parts", "text": "x", "amount_minor": 10**9 + 1},
            {"kind": "parts", "text": "x", "amount_minor": 1, "total": 5},
            {"kind": "parts", "text": "x" * 201, "amount_minor": 1},
        ],
    )
    def test_a_line_that_cannot_be_is_refused(self, technician_client, at, line):
        assert write(technician_client, at, [line]).status_code == 400
        assert not everywhere(Estimate, why=WHY).exists()

    def test_forty_one_lines_are_too_many(self, technician_client, at):
        assert write(technician_client, at, [LINES[0]] * 41).status_code == 400

    def test_a_sealed_card_has_no_new_estimate(self, technician_client, technician, make_ready_card):
        card = make_ready_card()
        seal.seal(Actor(technician), card)
        assert write(technician_client, f"/api/cards/{card.pk}/estimate/").status_code == 409

    @pytest.mark.parametrize("currency", ["eur", "EU", "E1R", "€€€"])
    def test_a_currency_has_a_code(self, owner_client, currency):
        assert owner_client.patch("/api/business/currency/", {"currency": currency}).status_code == 400


class TestTheLink:
    def test_it_is_kept_as_a_hash_and_told_once(self, technician_client, asked, card):
        ask = everywhere(EstimateAsk, why=WHY).get()
        assert len(asked) >= 43  # 256 bits in base 64
        assert asked not in json.dumps(ask.lines) + ask.secret_sha256 + ask.digest
        assert asked not in technician_client.get(f"/api/cards/{card.pk}/").content.decode()
        assert asked not in json.dumps(list(rows(AuditEntry, ask.made_by).values("before", "after")))

    def test_the_page_shows_lines_sum_and_two_buttons_and_nobodys_name(self, anonymous, asked, card):
        page = anonymous.post("/api/estimate/open/", {"secret": asked})
        assert page.status_code == 200
        html = page.json()["html"]
        for words in ("Fork service, both legs", "180.50 EUR", "Two fork springs", TOTAL, 'data-estimate="approved"'):
            assert words in html
        assert card.customer.name not in html
        assert page["Cache-Control"] == "no-store"
        assert everywhere(EstimateOpening, why=WHY).count() == 1

    def test_markup_in_a_line_is_text(self, technician_client, anonymous, at):
        write(technician_client, at, [{"kind": "parts", "text": "<img src=x onerror=alert(1)>", "amount_minor": 1}])
        secret = technician_client.post(f"{at}asks/", {}).json()["url"].removeprefix("/record#e.")
        html = anonymous.post("/api/estimate/open/", {"secret": secret}).json()["html"]
        assert "<img" not in html
        assert "&lt;img" in html

    @pytest.mark.parametrize("how", ["unknown", "expired", "revoked", "superseded"])
    def test_what_opens_nothing_is_answered_alike(self, anonymous, technician_client, asked, at, how):
        ask = everywhere(EstimateAsk, why=WHY).get()
        secret = asked
        if how == "unknown":
            secret = "A" * 43
        elif how == "expired":
            everywhere(EstimateAsk, why=WHY).update(expires_at=timezone.now() - timedelta(seconds=1))
        elif how == "revoked":
            technician_client.post(f"{at}asks/{ask.pk}/revoke/")
        else:
            technician_client.post(f"{at}asks/", {})
        opened = anonymous.post("/api/estimate/open/", {"secret": secret})
        said = answer(anonymous, secret)
        assert opened.status_code == said.status_code == 404
        assert opened.content == said.content
        ask.refresh_from_db()
        assert ask.answer == ""

    def test_a_records_link_is_no_estimates_link_nor_the_other_way_round(self, anonymous, asked):
        assert anonymous.post("/api/record/open/", {"secret": asked}).status_code == 404

    def test_an_empty_estimate_is_not_sent(self, technician_client, at):
        assert problem_codes(technician_client.post(f"{at}asks/", {})) == ["no_estimate"]

    @pytest.mark.parametrize("days", [0, -1, 61, 1.5, "7"])
    def test_it_lives_sixty_days_at_most(self, technician_client, at, days):
        write(technician_client, at)
        assert technician_client.post(f"{at}asks/", {"days": days}).status_code == 400


class TestTheAnswer:
    def test_a_yes_is_kept_with_time_and_address(
        self, anonymous, technician_client, manager_client, manager, asked, card
    ):
        said = answer(anonymous, asked)
        assert said.status_code == 200, said.content
        assert "You approved this on" in said.json()["html"]
        ask = everywhere(EstimateAsk, why=WHY).get()
        assert (ask.answer, ask.answered_from) == ("approved", "203.0.113.7")
        assert abs(timezone.now() - ask.answered_at) < timedelta(minutes=5)
        assert state(technician_client, card) == "approved"
        [told] = manager_client.get(f"/api/cards/{card.pk}/").json()["estimate"]["asks"]
        assert told["answered_from"] == "203.0.113.7"
        [told] = technician_client.get(f"/api/cards/{card.pk}/").json()["estimate"]["asks"]
        assert told["answered_from"] is None

    def test_the_trail_says_so_without_name_or_address(self, anonymous, manager, asked, card):
        answer(anonymous, asked)
        line = rows(AuditEntry, manager).filter(verb="estimate approved").get()
        assert (line.person, line.address, line.shop_id) == (None, None, card.shop_id)
        assert "203.0.113.7" not in json.dumps([line.before, line.after, line.reason])
        assert card.customer.name not in json.dumps([line.before, line.after, line.reason])

    @pytest.mark.parametrize("second", ["approved", "declined"])
    def test_it_is_given_once(self, anonymous, technician_client, asked, card, second):
        answer(anonymous, asked, "declined")
        again = answer(anonymous, asked, second)
        assert (again.status_code, problem_codes(again)) == (409, ["answered"])
        assert state(technician_client, card) == "declined"

    def test_a_changed_estimate_is_not_agreed_to_by_the_old_link(self, anonymous, technician_client, asked, at, card):
        dearer = [LINES[0], {**LINES[1], "amount_minor": 99_900}]
        write(technician_client, at, dearer, version=1)
        html = anonymous.post("/api/estimate/open/", {"secret": asked}).json()["html"]
        assert "has changed this estimate" in html
        assert "data-estimate" not in html
        late = answer(anonymous, asked)
        assert (late.status_code, problem_codes(late)) == (409, ["changed"])
        assert state(technician_client, card) == "not_asked"

    def test_a_change_after_the_yes_needs_a_new_one(self, anonymous, technician_client, asked, at, card):
        answer(anonymous, asked)
        write(technician_client, at, [LINES[0]], version=1)
        assert state(technician_client, card) == "changed"
        write(technician_client, at, LINES, version=2)
        assert state(technician_client, card) == "approved", "what was agreed to stands again, to the letter"

    def test_another_currency_changes_no_amount_that_was_written(
        self, anonymous, technician_client, owner_client, asked, card, at
    ):
        """Of 1000 minor units JPY would make 1000 instead of 10.00 (ISO 4217: the yen has no minor unit)."""
        answer(anonymous, asked)
        assert owner_client.patch("/api/business/currency/", {"currency": "JPY"}).json()["minor_digits"] == 0
        told = technician_client.get(f"/api/cards/{card.pk}/").json()["estimate"]
        assert (told["currency"], told["minor_digits"], told["state"]) == ("EUR", 2, "approved")
        write(technician_client, at, LINES[:1], version=1)
        told = technician_client.get(f"/api/cards/{card.pk}/").json()["estimate"]
        assert (told["currency"], told["total_minor"]) == ("EUR", LINES[0]["amount_minor"])
        write(technician_client, at, [], version=2)
        write(technician_client, at, LINES, version=3)
        told = technician_client.get(f"/api/cards/{card.pk}/").json()["estimate"]
        assert (told["currency"], told["minor_digits"]) == ("JPY", 0)

    @pytest.mark.parametrize("said", ["", "yes", "APPROVED", None, True])
    def test_only_yes_or_no_is_taken(self, anonymous, asked, said):
        assert answer(anonymous, asked, said).status_code == 400


class TestWorkWaits:
    def codes(self, card):
        return [one["code"] for one in blockers.blockers(JobCard.objects.declare_scope().get(pk=card.pk))]

    @pytest.fixture
    def ready(self, make_ready_card):
        return make_ready_card()

    @pytest.fixture
    def ready_at(self, ready):
        return f"/api/cards/{ready.pk}/estimate/"

    def test_without_being_asked_for_nothing_waits(self, technician_client, ready, ready_at):
        write(technician_client, ready_at, needs_approval=False)
        assert self.codes(ready) == []

    def test_it_blocks_sealing_until_the_yes(self, anonymous, technician_client, ready, ready_at):
        write(technician_client, ready_at)
        assert self.codes(ready) == ["not_approved"]
        secret = technician_client.post(f"{ready_at}asks/", {}).json()["url"].removeprefix("/record#e.")
        assert self.codes(ready) == ["not_approved"]
        answer(anonymous, secret)
        assert self.codes(ready) == []

    def test_a_no_and_a_missing_estimate_block_too(self, anonymous, technician_client, ready, ready_at):
        write(technician_client, ready_at, [])
        assert self.codes(ready) == ["not_approved"]
        write(technician_client, ready_at, version=1)
        secret = technician_client.post(f"{ready_at}asks/", {}).json()["url"].removeprefix("/record#e.")
        answer(anonymous, secret, "declined")
        assert self.codes(ready) == ["not_approved"]
        assert technician_client.post(f"/api/cards/{ready.pk}/seal/").status_code == 409

    def test_the_work_is_not_signed_off_before(self, technician_client, manager, card, at):
        write(technician_client, at)
        address = f"/api/cards/{card.pk}/sign-offs/"
        early = technician_client.post(address, {"part": "work"})
        assert (early.status_code, problem_codes(early)) == (409, ["not_approved"])
        held = JobCard.objects.declare_scope().get(pk=card.pk)
        found = blockers.work_waits(held)
        override(
            Actor(manager), held, code=found["code"], about=found["about"], reason="Agreed to by telephone at noon."
        )
        assert technician_client.post(address, {"part": "work"}).status_code == 200

    def test_an_override_does_not_cover_a_changed_estimate(self, technician_client, manager, card, at):
        write(technician_client, at)
        held = JobCard.objects.declare_scope().get(pk=card.pk)
        found = blockers.work_waits(held)
        override(
            Actor(manager), held, code=found["code"], about=found["about"], reason="Agreed to by telephone at noon."
        )
        write(technician_client, at, [LINES[0]], version=1)
        assert blockers.work_waits(JobCard.objects.declare_scope().get(pk=card.pk)) is not None

    def test_the_sealed_record_keeps_what_was_agreed_and_not_from_where(
        self, anonymous, technician, technician_client, ready, ready_at
    ):
        write(technician_client, ready_at)
        secret = technician_client.post(f"{ready_at}asks/", {}).json()["url"].removeprefix("/record#e.")
        answer(anonymous, secret)
        seal.seal(Actor(technician), JobCard.objects.declare_scope().get(pk=ready.pk))
        record = ready.records.get()
        sealed = json.loads(record.internal)["estimate"]
        assert (sealed["state"], sealed["total_minor"]) == ("approved", 30_950)
        assert "203.0.113.7" not in record.internal + record.public
        assert "data-estimate" not in anonymous.post("/api/estimate/open/", {"secret": secret}).json()["html"]


def test_a_former_owners_estimate_is_kept_from_technicians(technician_client, manager_client, technician, card, at):
    write(technician_client, at)
    change_owner(
        Actor(technician), card.bike, 1, owner=CustomerFactory(business=card.business), reason="Sold."
    )
    assert technician_client.get(f"/api/cards/{card.pk}/").json()["estimate"] is None
    assert write(technician_client, at, [], version=1).status_code == 403
    assert technician_client.post(f"{at}asks/", {}).status_code == 403
    assert manager_client.get(f"/api/cards/{card.pk}/").json()["estimate"]["total_minor"] == 30_950


def test_the_digest_tells_every_difference():
    same = estimates.digest_of(LINES, "EUR")
    others = [
        estimates.digest_of(LINES, "CHF"),
        estimates.digest_of(LINES[::-1], "EUR"),
        estimates.digest_of(LINES[:1], "EUR"),
        estimates.digest_of([{**LINES[0], "amount_minor": 18_051}, LINES[1]], "EUR"),
    ]
    assert len({same, *others}) == 5
