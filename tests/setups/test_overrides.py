"""A wrench is trusted for 12 months or 5,000 cycles; a manager may override little, and only in writing."""

from __future__ import annotations

import json
from datetime import date, timedelta

import pytest
from django.template.loader import render_to_string
from django.utils import timezone

from setups import blockers
from setups.approval_models import Override
from setups.models import JobCard, TorqueLine
from setups.record import seal
from setups.record.pdf import context
from setups.record.reading import links_of, read
from setups.verbs.overriding import override
from shops import calibration
from shops.access import everywhere, rows
from shops.models import AuditEntry, Tool
from shops.refusals import Blocked, Forbidden
from shops.trail import Actor
from tests.factories import JobCardFactory, ToolFactory, TorqueLineFactory
from tests.setups.record import conftest as invented_record
from tests.shops.cases import problem_codes

make_ready_card = invented_record.make_ready_card
WHY = "this test"
REASON = "Alone in the shop on this day."


def fresh(card):
    return everywhere(JobCard, why=WHY).get(pk=card.pk)


def standing(card):
    return {(one["code"], one["about"]) for one in blockers.blockers(fresh(card))}


class TestCalibration:
    """ISO 6789-1:2017, from memory: 12 months or 5,000 cycles, whichever first, without a procedure of one's own."""

    @pytest.mark.parametrize(
        ("calibrated", "certificate", "due"),
        [
            (date(2030, 3, 14), None, date(2031, 3, 14)),
            (date(2030, 3, 14), date(2030, 9, 14), date(2030, 9, 14)),  # the certificate asks for less
            (date(2030, 3, 14), date(2033, 3, 14), date(2031, 3, 14)),  # or grants more than the practice
            (date(2028, 2, 29), None, date(2029, 2, 28)),
            (None, date(2031, 1, 1), date(2031, 1, 1)),
            (None, None, None),
        ],
    )
    def test_it_is_due_after_twelve_months_at_the_latest(self, calibrated, certificate, due):
        tool = Tool(kind="torque_wrench", calibrated_on=calibrated, calibration_due=certificate)
        assert calibration.due_on(tool) == due

    def test_a_scale_goes_by_its_certificate(self):
        tool = Tool(kind="scale", calibrated_on=date(2030, 3, 14), calibration_due=date(2033, 3, 14))
        assert calibration.due_on(tool) == date(2033, 3, 14)

    @pytest.mark.parametrize(("cycles", "good"), [(4_999, True), (5_000, True), (5_001, False)])
    def test_five_thousand_cycles_are_all(self, cycles, good):
        held = calibration.Calibration(date(2030, 3, 14), date(2031, 3, 14), cycles)
        assert (held.why_not(date(2030, 6, 1)) is None) is good

    @pytest.mark.django_db
    def test_each_fastener_of_a_line_is_a_cycle_of_its_wrench(self, technician_client, shop):
        wrench = ToolFactory(shop=shop, cycles_since_calibration=4_995)
        at = f"/api/cards/{JobCardFactory(shop=shop).pk}/torques/"
        bolts = {"fastener": "Sump bolts", "value_nm": 10, "wrench": wrench.pk}
        assert technician_client.post(at, {**bolts, "count": 61}).status_code == 400
        [line] = technician_client.post(at, {**bolts, "count": 5}).json()["torques"]
        [told] = technician_client.post(f"{at}{line['id']}/tighten/", {}).json()["torques"]
        assert (told["count"], told["wrench_cycles"]) == (5, 5_000)
        wrench.refresh_from_db()
        assert wrench.cycles_since_calibration == 5_000
        more = technician_client.post(at, bolts).json()["torques"][1]
        assert problem_codes(technician_client.post(f"{at}{more['id']}/tighten/", {})) == ["wrench_out_of_calibration"]

    @pytest.mark.parametrize(
        ("day", "good"),
        [(date(2030, 3, 13), False), (date(2030, 3, 14), True), (date(2031, 3, 14), True), (date(2031, 3, 15), False)],
    )
    def test_the_day_of_the_job_decides(self, day, good):
        held = calibration.Calibration(date(2030, 3, 14), date(2031, 3, 14), 0)
        assert (held.why_not(day) is None) is good


class TestCycles:
    @pytest.fixture
    def card(self, shop):
        return JobCardFactory(shop=shop)

    def line(self, card, wrench, fastener="Fork caps"):
        return TorqueLineFactory(
            card=card, fastener=fastener, needs_second_check=False, value_nm=20, wrench=wrench,
            source_edition="Manual, ed. 2", source_page="3-4",
        )  # fmt: skip

    def test_each_tightening_counts_one(self, technician_client, card, shop):
        wrench = ToolFactory(shop=shop, cycles_since_calibration=41)
        for _ in range(2):
            line = self.line(card, wrench)
            answer = technician_client.post(f"/api/cards/{card.pk}/torques/{line.pk}/tighten/")
            assert answer.status_code == 200, answer.content
        tool = technician_client.get(f"/api/tools/{wrench.pk}/").json()
        assert (tool["cycles_since_calibration"], tool["out_of_calibration"]) == (43, False)
        line.refresh_from_db()
        assert line.calibration["cycles"] == 43

    def test_the_five_thousand_and_first_is_refused(self, technician_client, card, shop):
        wrench = ToolFactory(shop=shop, cycles_since_calibration=4_999)
        first, second = self.line(card, wrench), self.line(card, wrench)
        assert technician_client.post(f"/api/cards/{card.pk}/torques/{first.pk}/tighten/").status_code == 200
        answer = technician_client.post(f"/api/cards/{card.pk}/torques/{second.pk}/tighten/")
        assert problem_codes(answer) == ["wrench_out_of_calibration"]
        wrench.refresh_from_db()
        assert wrench.cycles_since_calibration == 5_000
        left = [about for code, about in standing(card) if code == "wrench_out_of_calibration"]
        assert not any(about.startswith(f"torque {first.pk} ") for about in left)

    def test_a_technician_does_not_set_them_but_a_manager_does(self, technician_client, manager_client, manager, shop):
        wrench = ToolFactory(shop=shop, cycles_since_calibration=4_000)
        at, body = f"/api/tools/{wrench.pk}/", {"cycles_since_calibration": 0}
        answer = technician_client.patch(at, body, HTTP_IF_MATCH='"1"')
        assert (answer.status_code, problem_codes(answer)) == (403, ["manager_only"])
        assert manager_client.patch(at, body, HTTP_IF_MATCH='"1"').json()["cycles_since_calibration"] == 0
        line = rows(AuditEntry, manager).filter(verb="change tool").get()
        assert (line.before, line.after) == ({"cycles_since_calibration": 4_000}, body)

    @pytest.mark.parametrize("cycles", [-1, 1.5, "7", 10**7, None])
    def test_cycles_that_cannot_be_are_refused(self, manager_client, shop, cycles):
        at = f"/api/tools/{ToolFactory(shop=shop).pk}/"
        answer = manager_client.patch(at, {"cycles_since_calibration": cycles}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 400

    def test_a_new_calibration_starts_them_afresh_and_an_older_date_does_not(self, technician_client, shop):
        wrench = ToolFactory(shop=shop, cycles_since_calibration=4_000, calibration_due=None)
        at, today = f"/api/tools/{wrench.pk}/", timezone.now().date()
        older = {"calibrated_on": str(wrench.calibrated_on - timedelta(days=5))}
        assert technician_client.patch(at, older, HTTP_IF_MATCH='"1"').json()["cycles_since_calibration"] == 4_000
        # A form sends every field along: cycles that stand as they were start afresh too.
        newer = {"calibrated_on": str(today), "cycles_since_calibration": 4_000}
        assert technician_client.patch(at, newer, HTTP_IF_MATCH='"2"').json()["cycles_since_calibration"] == 0

    def test_a_calibration_done_since_does_not_reach_back(self, technician_client, card, shop):
        """Good on the day stays good after the next calibration, bad on the day stays bad."""
        wrench = ToolFactory(shop=shop)
        line = self.line(card, wrench)
        technician_client.post(f"/api/cards/{card.pk}/torques/{line.pk}/tighten/")
        TorqueLine.objects.declare_scope().filter(pk=line.pk).update(tightened_at=timezone.now() - timedelta(days=20))
        technician_client.patch(
            f"/api/tools/{wrench.pk}/", {"calibrated_on": str(timezone.now().date())}, HTTP_IF_MATCH='"1"'
        )
        assert "wrench_out_of_calibration" not in {code for code, _ in standing(card)}


class TestOverriding:
    @pytest.fixture
    def card(self, make_ready_card):
        """Return a card in whose way two things stand: no second check of the axle, a wrench overdue."""
        card = make_ready_card()
        card.torques.filter(fastener="front axle nut").update(checked_by=None, checked_at=None)
        return card

    @pytest.fixture
    def unchecked(self, card):
        [found] = blockers.blockers(card)
        assert (found["code"], found["may_override"]) == ("no_second_check", True)
        return found

    def post(self, client, card, found, reason=REASON):
        body = {"code": found["code"], "about": found["about"], "reason": reason}
        return client.post(f"/api/cards/{card.pk}/overrides/", body)

    def test_a_managers_written_reason_lets_it_be_sealed_and_stays_everywhere(
        self, manager_client, manager, technician, card, unchecked
    ):
        answer = self.post(manager_client, card, unchecked)
        assert answer.status_code == 200, answer.content
        assert answer.json()["blockers"] == []
        [told] = answer.json()["overrides"]
        assert (told["reason"], told["by_name"], told["stands"]) == (REASON, manager.name, True)
        seal.seal(Actor(technician), card)
        [sealed] = json.loads(card.records.get().public)["overrides"]
        assert (sealed["code"], sealed["reason"], sealed["by_name"]) == ("no_second_check", REASON, manager.name)
        assert sealed["text"] == unchecked["text"]
        printed = context(read(links_of(card)), "https://shop.example/record")["overrides"]
        assert [one["reason"] for one in printed] == [REASON]
        line = rows(AuditEntry, manager).filter(verb="override").get()
        assert (line.subject_id, line.reason) == (card.pk, REASON)

    def test_a_german_manager_reads_of_it_in_german_and_the_english_record_stays_english(
        self, manager_client, manager, technician, card, unchecked
    ):
        manager.language = "de"
        manager.save()
        [told] = self.post(manager_client, card, unchecked).json()["overrides"]
        assert "muss" in told["text"]
        assert unchecked["text"] not in told["text"]
        [listed] = manager_client.get("/api/audit/overridden/").json()["results"]
        assert listed["text"] == "Eine Zweitprüfung, die nicht gemacht wurde"
        seal.seal(Actor(technician), card)
        [sealed] = json.loads(card.records.get().public)["overrides"]
        assert sealed["text"] == unchecked["text"]

    def test_the_printed_record_tells_it(self, manager, technician, card, unchecked):
        override(Actor(manager), card, code=unchecked["code"], about=unchecked["about"], reason=REASON)
        seal.seal(Actor(technician), card)
        html = render_to_string("record/pdf.html", context(read(links_of(card)), "https://shop.example/record"))
        assert "Overridden with a reason" in html
        assert REASON in html

    def test_the_sealed_reason_is_not_amended_away(self, manager, technician, technician_client, card, unchecked):
        override(Actor(manager), card, code=unchecked["code"], about=unchecked["about"], reason=REASON)
        seal.seal(Actor(technician), card)
        body = {"path": "overrides.0.reason", "new": "None needed.", "why": "Looks better."}
        answer = technician_client.post(f"/api/cards/{card.pk}/amendments/", body)
        assert (answer.status_code, problem_codes(answer)) == (400, ["not_amendable"])

    def test_a_technician_may_not(self, technician_client, technician, card, unchecked):
        assert self.post(technician_client, card, unchecked).status_code == 403
        with pytest.raises(Forbidden):
            override(Actor(technician), card, code=unchecked["code"], about=unchecked["about"], reason=REASON)
        assert not everywhere(Override, why=WHY).exists()

    def test_a_sister_shops_manager_may_not(self, client_for, manager, sister_shop, card, unchecked):
        manager.shop = sister_shop
        manager.save()
        assert self.post(client_for(manager), card, unchecked).status_code == 403

    @pytest.mark.parametrize("reason", ["", "   ", "ok", "." * 9, "         x", "x" * 301])
    def test_a_reason_that_says_nothing_is_refused(self, manager_client, card, unchecked, reason):
        assert self.post(manager_client, card, unchecked, reason).status_code == 400

    @pytest.mark.parametrize(
        "change",
        [
            {"value_nm": None},
            {"source_page": ""},
            {"wrench": None},
            {"tightened_by": None, "tightened_at": None},
        ],
    )
    def test_what_the_record_rests_on_is_never_overridden(self, manager_client, card, change):
        card.torques.filter(fastener="fork caps").update(**change)
        for found in blockers.blockers(fresh(card)):
            if found["code"] != "no_second_check":
                assert found["may_override"] is False
                answer = self.post(manager_client, card, found)
                assert (answer.status_code, problem_codes(answer)) == (409, ["never_overridden"])

    def test_unread_cautions_and_missing_sign_offs_are_never_overridden(self, manager_client, card):
        card.cautions_read.all().delete()
        card.sign_offs.all().delete()
        found = [one for one in blockers.blockers(fresh(card)) if one["code"] in {"caution_unread", "no_sign_off"}]
        assert len(found) > 2
        assert {problem_codes(self.post(manager_client, card, one))[0] for one in found} == {"never_overridden"}

    @pytest.mark.parametrize(
        ("code", "about"), [("no_second_check", "torque 1"), ("no_second_check", ""), ("made_up", "")]
    )
    def test_what_does_not_stand_in_the_way_is_not_overridden(self, manager_client, card, code, about):
        answer = self.post(manager_client, card, {"code": code, "about": about})
        assert (answer.status_code, problem_codes(answer)) == (409, ["not_in_the_way"])

    def test_it_covers_this_very_thing_and_nothing_else(self, manager_client, card, unchecked):
        self.post(manager_client, card, unchecked)
        card.torques.filter(fastener="rear axle").update(checked_by=None, checked_at=None)
        [left] = blockers.blockers(fresh(card))
        assert left["about"] != unchecked["about"]

    def test_tightened_again_it_wants_its_check_again(self, manager_client, technician_client, card, unchecked):
        self.post(manager_client, card, unchecked)
        line = card.torques.get(fastener="front axle nut")
        technician_client.post(f"/api/cards/{card.pk}/torques/{line.pk}/tighten/")
        assert [code for code, _ in standing(card)] == ["no_second_check"]
        told = manager_client.get(f"/api/cards/{card.pk}/").json()["overrides"]
        assert [one["stands"] for one in told] == [False]

    def test_one_that_was_not_needed_in_the_end_is_not_in_the_record(
        self, manager_client, second_technician_client, technician, card, unchecked
    ):
        self.post(manager_client, card, unchecked)
        line = card.torques.get(fastener="front axle nut")
        second_technician_client.post(f"/api/cards/{card.pk}/torques/{line.pk}/check/")
        seal.seal(Actor(technician), card)
        assert json.loads(card.records.get().public)["overrides"] == []
        assert everywhere(Override, why=WHY).filter(card=card).count() == 1

    def test_a_sealed_card_is_past_overriding(self, manager_client, technician, make_ready_card):
        card = make_ready_card()
        seal.seal(Actor(technician), card)
        answer = self.post(manager_client, card, {"code": "no_second_check", "about": "torque 1"})
        assert (answer.status_code, problem_codes(answer)) == (409, ["sealed"])

    def test_an_overdue_wrench_may_be_used_once_a_manager_says_why(self, manager_client, technician_client, shop):
        card = JobCardFactory(shop=shop)
        overdue = ToolFactory(shop=shop, calibration_due=timezone.now().date() - timedelta(days=1))
        line = TorqueLineFactory(
            card=card, fastener="Fork caps", needs_second_check=False, value_nm=20, wrench=overdue,
            source_edition="Manual, ed. 2", source_page="3-4",
        )  # fmt: skip
        at = f"/api/cards/{card.pk}/torques/{line.pk}/tighten/"
        assert problem_codes(technician_client.post(at)) == ["wrench_out_of_calibration"]
        found = next(one for one in blockers.blockers(fresh(card)) if one["code"] == "wrench_out_of_calibration")
        assert self.post(manager_client, card, found, "The calibrated one is away for its own.").status_code == 200
        assert technician_client.post(at).status_code == 200
        assert "wrench_out_of_calibration" not in {code for code, _ in standing(card)}

    def test_sealing_says_what_is_left(self, technician, card, unchecked):
        with pytest.raises(Blocked) as told:
            seal.seal(Actor(technician), card)
        assert [problem.code for problem in told.value.problems] == ["no_second_check"]
