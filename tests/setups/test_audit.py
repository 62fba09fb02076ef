"""The audit: what each list finds and leaves out, of whose rows, at what cost, as a file, and the chain's check."""

from __future__ import annotations

import csv
import io
import statistics
import zipfile
from datetime import date, datetime, timedelta
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from setups.approval_models import Override
from setups.audit.calibration import intervals
from setups.audit.lists import LISTS
from setups.models import BatchUse, SealedRecord, StoredPdf, TorqueLine
from setups.record import append_only, seal
from shops import verbs
from shops.access import everywhere, rows
from shops.models import AuditEntry
from shops.trail import Actor
from shops.web.pages import Pages
from tests.factories import (
    AuditEntryFactory,
    BikeFactory,
    BuiltSagFactory,
    JobCardFactory,
    PersonFactory,
    ShopFactory,
    ToolFactory,
    TorqueLineFactory,
)
from tests.setups.record import conftest as invented_record

make_ready_card, actor = invented_record.make_ready_card, invented_record.actor
UTC = ZoneInfo("UTC")


def audit(client, about, **query):
    answer = client.get(f"/api/audit/{about}/", query)
    assert answer.status_code == 200, answer.content
    return answer.json()


def told(client, about, **query):
    return [row["id"] for row in audit(client, about, **query)["results"]]


def tightened(shop, **values):
    """Return a tightened, checked line with its source, changed by `values`."""
    card = values.pop("card", None) or JobCardFactory(shop=shop)
    wrench = values.pop("wrench", None) or ToolFactory(shop=card.shop)
    row = {
        "card": card, "value_nm": 40, "source_edition": "2nd", "source_page": "3-4", "wrench": wrench,
        "tightened_by": card.opened_by, "tightened_at": timezone.now(),
        "checked_by": PersonFactory(shop=card.shop), "checked_at": timezone.now(),
    }  # fmt: skip
    return TorqueLineFactory(**{**row, **values})


def uncheck(shop):
    return tightened(shop, checked_by=None, checked_at=None)


def unsource(shop):
    return tightened(shop, source_page="")


def uncalibrate(shop):
    due = timezone.now().date() - timedelta(days=3)
    return tightened(shop, wrench=ToolFactory(shop=shop, calibrated_on=due - timedelta(days=300), calibration_due=due))


def delay(shop):
    return JobCardFactory(shop=shop, opened_at=timezone.now() - timedelta(days=40))


def use(shop):
    card = JobCardFactory(shop=shop)
    return BatchUse.objects.create(
        business=shop.business, shop=shop, card=card, what="oil", end="front", batch="Q 4", batch_key="q4", label="5 W"
    )


def enter(shop):
    return AuditEntryFactory(
        shop=shop, person=PersonFactory(shop=shop), before={"name": "Old"}, after={"name": "New"},
        subject_id=ToolFactory(shop=shop).pk,
    )  # fmt: skip


def amend(shop, what="amendment"):
    """Return a record of the chain, as far as a list reads it."""
    card = JobCardFactory(shop=shop)
    number = shop.records.count() + 1
    text = '{"amendment": {"new": "Wallows.", "old": "Dives.", "path": "complaint", "why": "Misheard."}}'
    return SealedRecord.objects.create(
        shop=shop, card=card, what=what, number=number, public=text, internal='{"amendment": null}',
        head=f"{number:064x}", sealed_by=card.opened_by, sealed_at=timezone.now(),
    )  # fmt: skip


def override(shop):
    card = JobCardFactory(shop=shop)
    return Override.objects.create(
        card=card, code="no_second_check", about="Front axle", text="Front axle: a second person must still check.",
        reason="Alone in the shop; checked by the owner by telephone.", by=card.opened_by,
    )  # fmt: skip


def due_soon(shop):
    today = timezone.now().date()
    return ToolFactory(shop=shop, calibrated_on=today - timedelta(days=300), calibration_due=today)


MAKERS = {
    "unchecked": uncheck,
    "unsourced": unsource,
    "uncalibrated": uncalibrate,
    "tools": due_soon,
    "late": delay,
    "overridden": override,
    "records": lambda shop: amend(shop, "card"),
    "amended": amend,
    "recalled": use,
    "sags": lambda shop: BuiltSagFactory(card=JobCardFactory(shop=shop)),
    "trail": enter,
}
QUERY = {"recalled": {"batch": "q4"}}


def test_every_list_is_put_through_what_follows():
    assert set(MAKERS) == set(LISTS)


@pytest.mark.parametrize("about", MAKERS)
class TestEveryList:
    def test_finds_the_businesss_rows_and_no_others(self, about, manager_client, shop, sister_shop, other_shop):
        mine, sisters, foreign = (MAKERS[about](one) for one in (shop, sister_shop, other_shop))
        found = told(manager_client, about, **QUERY.get(about, {}))
        assert {mine.pk, sisters.pk} <= set(found)
        assert foreign.pk not in found
        narrowed = told(manager_client, about, shop=sister_shop.pk, **QUERY.get(about, {}))
        assert sisters.pk in narrowed
        assert mine.pk not in narrowed

    def test_is_narrowed_by_days(self, about, manager_client, shop):
        row = MAKERS[about](shop)
        today = timezone.now().astimezone(ZoneInfo(shop.time_zone)).date()
        query = QUERY.get(about, {})
        wide = {"since": today - timedelta(days=60), "until": today + timedelta(days=1), **query}
        assert row.pk in told(manager_client, about, **wide)
        assert row.pk not in told(manager_client, about, until=today - timedelta(days=90), **query)
        assert row.pk not in told(manager_client, about, since=today + timedelta(days=2), **query)

    def test_leafing_shows_every_row_once_in_the_lists_own_order(self, about, manager_client, shop, monkeypatch):
        for _ in range(4):
            MAKERS[about](shop)
        query = QUERY.get(about, {})
        whole = told(manager_client, about, **query)
        monkeypatch.setattr(Pages, "page_size", 1)
        leafed, page = [], "1"
        while page is not None:
            answer = audit(manager_client, about, page=page, **query)
            leafed += [row["id"] for row in answer["results"]]
            page = answer["next"]
        assert leafed == whole
        assert len(whole) >= 4

    def test_thirty_rows_cost_as_many_queries_as_three(self, about, manager_client, shop):
        counts = []
        for more in (3, 27):
            for _ in range(more):
                MAKERS[about](shop)
            with CaptureQueriesContext(connection) as caught:
                found = audit(manager_client, about, **QUERY.get(about, {}))
            counts.append(len(caught))
        assert found["count"] >= 30
        assert counts[0] == counts[1]

    def test_is_a_managers(self, about, technician_client, stranger_client, shop):
        MAKERS[about](shop)
        assert technician_client.get(f"/api/audit/{about}/").status_code == 403
        assert technician_client.post(f"/api/audit/{about}/file/").status_code == 403

    def test_goes_out_as_a_file_with_all_its_rows_and_a_line_in_the_trail(self, about, manager_client, shop, owner):
        MAKERS[about](shop)
        answer = manager_client.post(f"/api/audit/{about}/file/?{urlencode(QUERY.get(about, {}))}")
        assert answer.status_code == 200
        text = b"".join(answer.streaming_content).decode("utf-8-sig")
        header, *lines = list(csv.reader(io.StringIO(text)))
        assert header == list(LISTS[about].columns.values())
        assert lines
        assert all(len(line) == len(header) for line in lines)
        [line] = rows(AuditEntry, owner).filter(verb="give list out")
        assert line.after["list"] == about


def test_a_list_that_is_none_is_not_found_and_a_wrong_day_is_refused(manager_client):
    assert manager_client.get("/api/audit/nothing/").status_code == 404
    assert manager_client.get("/api/audit/late/", {"since": "yesterday"}).status_code == 400
    assert manager_client.get("/api/audit/late/", {"colour": "red"}).status_code == 400


class TestWhatIsFound:
    def test_a_checked_line_with_its_source_is_in_order(self, manager_client, shop):
        tightened(shop)
        for about in ("unchecked", "unsourced", "uncalibrated"):
            assert told(manager_client, about) == []

    def test_a_line_checked_by_the_one_who_tightened_it_is_unchecked(self, manager_client, shop):
        line = tightened(shop)
        TorqueLine.objects.filter(pk=line.pk).declare_scope().update(checked_by=line.tightened_by)
        assert told(manager_client, "unchecked") == [line.pk]

    def test_late_is_measured_by_the_days_asked_for_and_a_sealed_card_is_never_late(self, manager_client, shop):
        for days, step in ((5, "built"), (20, "built"), (20, "sealed")):
            JobCardFactory(shop=shop, step=step, opened_at=timezone.now() - timedelta(days=days))
        assert len(told(manager_client, "late")) == 1
        assert len(told(manager_client, "late", days=3)) == 2
        assert "Open for 20 days" in audit(manager_client, "late")["results"][0]["text"]

    def test_a_wrench_calibrated_anew_does_not_uncover_what_was_covered_before(self, manager_client, shop, manager):
        tool = ToolFactory(shop=shop, calibrated_on=date(2026, 1, 10), calibration_due=date(2027, 1, 10))
        card = JobCardFactory(shop=shop)
        covered = tightened(shop, card=card, wrench=tool, tightened_at=datetime(2026, 5, 1, tzinfo=UTC))
        before = tightened(shop, card=card, wrench=tool, tightened_at=datetime(2026, 1, 1, tzinfo=UTC))
        assert told(manager_client, "uncalibrated") == [before.pk]
        verbs.change_tool(
            Actor(manager), tool, 1, {"calibrated_on": date(2026, 8, 1), "calibration_due": date(2027, 8, 1)}
        )
        assert told(manager_client, "uncalibrated") == [before.pk]
        assert covered.pk not in told(manager_client, "uncalibrated")

    def test_the_last_day_of_a_calibration_is_the_shops_own(self, manager_client, business):
        """23:30 in a shop nine hours ahead of Greenwich is 14:30 there: the due day itself is covered to its end."""
        far = ShopFactory(business=business, time_zone="Etc/GMT-9")
        tool = ToolFactory(shop=far, calibrated_on=date(2026, 1, 1), calibration_due=date(2026, 3, 31))
        last = datetime(2026, 3, 31, 23, 30, tzinfo=ZoneInfo("Etc/GMT-9"))
        tightened(far, wrench=tool, tightened_at=last)
        over = tightened(far, wrench=tool, tightened_at=last + timedelta(hours=1))
        assert told(manager_client, "uncalibrated") == [over.pk]

    def test_a_tool_is_told_with_its_dates_and_cycles_and_what_is_wrong(self, manager_client, shop):
        dates = {"calibrated_on": date(2025, 1, 10), "calibration_due": date(2025, 2, 10)}
        ToolFactory(shop=shop, cycles_since_calibration=1234, **dates)
        [row] = audit(manager_client, "tools")["results"]
        assert row["text"] == "Calibrated on 10 Jan 2025, due on 10 Feb 2025; 1,234 of 5,000 cycles since."
        assert "was out of calibration" in row["why"]

    def test_a_wrench_used_past_its_cycles_is_uncalibrated(self, manager_client, shop):
        """ISO 6789-1: 12 months or 5,000 cycles, whichever ends first."""
        at_most, past = (
            tightened(shop, calibration={"calibrated_on": None, "due_on": None, "cycles": cycles})
            for cycles in (5000, 5001)
        )
        assert told(manager_client, "uncalibrated") == [past.pk]
        assert at_most.pk != past.pk

    def test_a_recall_finds_a_batch_however_it_is_typed_and_names_the_customer(self, manager_client, shop):
        row = use(shop)
        for typed in ("Q 4", "q4", "Q4 "):
            [found] = audit(manager_client, "recalled", batch=typed)["results"]
            assert found["card"] == row.card_id
            assert row.card.customer.name in found["who"]
        assert told(manager_client, "recalled", batch="Q5") == []
        assert told(manager_client, "recalled") == []

    def test_work_between_two_calibrations_is_listed_and_none_within_one(self, manager_client, manager, shop):
        wrench = ToolFactory(shop=shop, calibrated_on=date(2020, 1, 10), calibration_due=date(2020, 6, 30))
        for start, end in ((date(2020, 9, 1), date(2021, 3, 1)), (date(2021, 2, 1), date(2021, 5, 1))):
            wrench = verbs.change_tool(
                Actor(manager), wrench, wrench.version, {"calibrated_on": start, "calibration_due": end}
            )
        uncovered = {date(2020, 1, 9), date(2020, 7, 1), date(2020, 8, 31), date(2021, 5, 2), date(2026, 1, 1)}
        covered = {date(2020, 1, 10), date(2020, 6, 30), date(2020, 9, 1), date(2021, 3, 2), date(2021, 5, 1)}
        zone = ZoneInfo(shop.time_zone)
        lines = {
            day: tightened(shop, wrench=wrench, tightened_at=datetime(day.year, day.month, day.day, 12, tzinfo=zone))
            for day in covered | uncovered
        }
        assert set(told(manager_client, "uncalibrated")) == {lines[day].pk for day in uncovered}

    def test_sags_are_told_by_shop_and_model_with_their_statistics(self, manager_client, shop):
        differences = [1.0, 2.0, 6.0]
        for one in differences:
            bike = BikeFactory(business=shop.business, make="Brackwater", model="Heron")
            BuiltSagFactory(card=JobCardFactory(shop=shop, bike=bike), measured_mm=100 + one, u_mm=0.1)
        BuiltSagFactory(card=JobCardFactory(shop=shop), left_out="record 2 amended readings.1.value")
        [row] = audit(manager_client, "sags")["results"]
        assert row["bike"] == "Brackwater Heron"
        assert row["figures"]["cards"] == 3
        assert row["figures"]["mean_mm"] == pytest.approx(statistics.mean(differences))
        assert row["figures"]["spread_mm"] == pytest.approx(statistics.stdev(differences), abs=0.01)

    @pytest.mark.parametrize(
        ("since", "until"),
        [
            (date(2021, 3, 1), date(2021, 3, 31)), (date(2021, 2, 28), date(2021, 5, 1)), (date(2021, 3, 10), None),
            (date(2021, 3, 10), date(2021, 3, 20)), (None, date(2021, 4, 15)), (date(2022, 1, 1), date(2022, 12, 31)),
        ],
    )  # fmt: skip
    def test_sags_of_some_days_are_those_of_the_rows_of_these_days(self, manager_client, shop, since, until):
        # Against the statistics module over the rows themselves; days are the shop's, which does not live in UTC.
        shop.time_zone = "Pacific/Auckland"
        shop.save()
        zone = ZoneInfo(shop.time_zone)
        measured = {}
        for place, day in enumerate(date(2021, 1, 1) + timedelta(days=5 * n) for n in range(30)):
            for hour in (0, 23):
                at, bike = datetime(day.year, day.month, day.day, hour, tzinfo=zone), BikeFactory(make="X", model="Y")
                one = {"measured_mm": 100.0 + place * 1.5 - hour, "sealed_at": at}
                BuiltSagFactory(card=JobCardFactory(shop=shop, bike=bike), make="X", model="Y", **one)
                measured[at] = one["measured_mm"] - 100
        wanted = [
            one for at, one in measured.items()
            if (since is None or at.date() >= since) and (until is None or at.date() <= until)
        ]  # fmt: skip
        days = {name: day.isoformat() for name, day in (("since", since), ("until", until)) if day}
        rows = audit(manager_client, "sags", **days)["results"]
        assert [row["figures"]["cards"] for row in rows] == ([len(wanted)] if wanted else [])
        for row in rows:
            assert row["figures"]["mean_mm"] == pytest.approx(statistics.mean(wanted), abs=0.006)
            assert row["figures"]["spread_mm"] == pytest.approx(statistics.stdev(wanted), abs=0.006)

    def test_an_amendment_tells_old_new_who_and_why(self, make_ready_card, actor, manager_client):
        card = make_ready_card()
        seal.seal(actor, card)
        seal.amend(actor, card, path="torques.0.source_page", new="9-9", why="Wrong page.")
        [row] = audit(manager_client, "amended")["results"]
        assert (row["who"], row["why"], row["card"]) == (actor.person.name, "Wrong page.", card.pk)
        assert row["changes"][0]["new"] == "9-9"


class TestTheTrailInWords:
    def test_who_when_from_where_what_and_old_and_new(self, manager_client, manager, shop):
        tool = ToolFactory(shop=shop, name="Wrench A", serial="W-1")
        verbs.change_tool(Actor(manager, "192.0.2.7"), tool, 1, {"name": "Wrench B"})
        [row] = audit(manager_client, "trail", kind="tool", who=manager.pk)["results"]
        assert row["who"] == manager.name
        assert row["address"] == "192.0.2.7"
        assert row["text"] == "change tool: Wrench B (W-1)"
        assert row["changes"] == [{"label": "name", "quantity": None, "old": "Wrench A", "new": "Wrench B"}]

    def test_a_nested_value_is_told_by_its_path_and_unit_and_an_equal_one_not_at_all(self, manager_client, shop):
        card = JobCardFactory(shop=shop)
        body = {"spring": {"kind": "straight", "rate_n_per_mm": 52}, "preload_mm": 7, "label": ""}
        AuditEntryFactory(
            shop=shop, verb="write setting", subject="jobcard", subject_id=card.pk,
            before={"built.rear": body}, after={"built.rear": {**body, "preload_mm": 9}},
        )  # fmt: skip
        [row] = audit(manager_client, "trail", kind="jobcard")["results"]
        assert (row["card"], row["card_number"]) == (card.pk, card.number)
        assert row["changes"] == [{"label": "built, rear, preload", "quantity": "length", "old": 7, "new": 9}]

    def test_a_personal_value_stays_out(self, manager_client, shop, manager):
        person = PersonFactory(shop=shop)
        verbs.change_person(Actor(manager), person, 1, {"name": "Wren Halloway"})
        [row] = audit(manager_client, "trail", kind="person")["results"]
        assert row["changes"] == [
            {"label": "name", "quantity": None, "old": "personal, not kept", "new": "personal, not kept"}
        ]

    def test_is_narrowed_by_person_and_kind(self, manager_client, shop, manager):
        mine = AuditEntryFactory(shop=shop, person=manager)
        other = AuditEntryFactory(shop=shop, person=PersonFactory(shop=shop), subject="bike")
        assert told(manager_client, "trail", who=manager.pk) == [mine.pk]
        assert told(manager_client, "trail", kind="bike") == [other.pk]


def test_a_cell_that_a_spreadsheet_would_run_is_made_harmless_and_a_negative_number_stays_one(
    manager_client, shop
):
    bike = BikeFactory(business=shop.business, make="=HYPERLINK(1)", model="Heron")
    for measured in (96, 97):
        BuiltSagFactory(card=JobCardFactory(shop=shop, bike=bike), measured_mm=measured)
    answer = manager_client.post("/api/audit/sags/file/")
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    [line] = list(csv.DictReader(io.StringIO(text)))
    assert line["Bike"] == "'=HYPERLINK(1) Heron"
    assert float(line["Mean difference, mm"]) == -3.5


def test_a_file_asks_for_the_full_sign_in(manager_client, shop):
    session = manager_client.session
    session["hands_full_until"] = 0
    session.save()
    answer = manager_client.post("/api/audit/late/file/")
    assert answer.status_code == 403
    assert answer.json()["problems"][0]["code"] == "full_sign_in"


class TestTheChain:
    def test_a_chain_that_holds_is_said_to_with_its_head(self, make_ready_card, actor, manager_client):
        record = seal.seal(actor, make_ready_card())
        assert manager_client.get("/api/audit/chain/").json() == {
            "checked": 1, "next": None, "head": record.head, "failure": None,
        }  # fmt: skip

    def test_the_first_record_that_fails_is_named(self, make_ready_card, actor, manager_client):
        card = make_ready_card()
        record = seal.seal(actor, card)
        seal.amend(actor, card, path="torques.0.source_page", new="9-9", why="Wrong page.")
        with connection.cursor() as cursor:
            for statement in append_only.lower_guard(connection.vendor):
                cursor.execute(statement)
        found = everywhere(SealedRecord, why="this test").filter(pk=record.pk)
        found.update(public=record.public.replace("Veldt", "Velds"))
        failure = manager_client.get("/api/audit/chain/").json()["failure"]
        assert failure["number"] == 1
        assert "public part was changed" in failure["why"]

    def test_it_goes_on_where_it_stopped(self, make_ready_card, actor, manager_client, monkeypatch):
        card = make_ready_card()
        seal.seal(actor, card)
        last = seal.amend(actor, card, path="torques.0.source_page", new="9-9", why="Wrong page.")
        monkeypatch.setattr("setups.audit.chain.SLICE", 1)
        first = manager_client.get("/api/audit/chain/").json()
        assert (first["checked"], first["next"]) == (1, 1)
        second = manager_client.get("/api/audit/chain/", {"after": 1}).json()
        assert second == {"checked": 1, "next": None, "head": last.head, "failure": None}

    def test_another_businesss_shop_is_not_found(self, manager_client, other_shop):
        assert manager_client.get("/api/audit/chain/", {"shop": other_shop.pk}).status_code == 404


def test_a_tools_calibrations_are_todays_and_those_that_changes_replaced():
    tool = ToolFactory.build(shop=None, calibrated_on=date(2026, 8, 1), calibration_due=date(2027, 8, 1))
    before = [
        {"calibrated_on": "2025-01-01", "calibration_due": "2025-06-01"},
        {"name": "Wrench A"},
        {"calibrated_on": None, "calibration_due": None},
    ]
    assert list(intervals(tool, before)) == [
        (date(2026, 8, 1), date(2027, 8, 1)), (date(2025, 1, 1), date(2025, 6, 1)),
    ]  # fmt: skip


@pytest.mark.pdf
class TestThePdfsOfManyRecords:
    def test_they_are_made_by_the_slice_then_given(self, make_ready_card, actor, manager_client, monkeypatch):
        monkeypatch.setattr("setups.audit.records.SLICE", 1)
        cards = [make_ready_card(), make_ready_card()]
        sealed = [seal.seal(actor, card) for card in cards]
        assert len(told(manager_client, "records")) == 2
        first = manager_client.get("/api/audit/pdfs/").json()
        assert first == {"made": 1, "whole": 2}
        stored = everywhere(StoredPdf, why="this test")
        assert stored.count() == 1, "whoever calls it off here leaves one whole PDF and nothing else"
        assert manager_client.get("/api/audit/pdfs/", {"done": 1}).json() == {"made": 2, "whole": 2}
        answer = manager_client.post("/api/audit/pdfs/")
        with zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content))) as packed:
            assert packed.testzip() is None
            found = {name: packed.read(name) for name in packed.namelist()}
        assert len(found) == 2
        assert {bytes(one.content) for one in stored.filter(record__in=sealed)} == set(found.values())
        assert all(content.startswith(b"%PDF-") for content in found.values())
        noted = everywhere(AuditEntry, why="this test").order_by("-id")[0]
        assert (noted.verb, noted.after["pdfs"]) == ("give list out", 2)

    def test_none_and_too_many_are_refused_and_leave_nothing(self, make_ready_card, actor, manager_client, monkeypatch):
        answer = manager_client.post("/api/audit/pdfs/")
        assert (answer.status_code, answer.json()["problems"][0]["code"]) == (400, "none")
        monkeypatch.setattr("setups.verbs.printing.MOST", 0)
        seal.seal(actor, make_ready_card())
        answer = manager_client.post("/api/audit/pdfs/")
        assert (answer.status_code, answer.json()["problems"][0]["code"]) == (400, "too_many")
        assert not everywhere(StoredPdf, why="this test").exists()

    def test_another_businesss_records_are_not_among_them(self, make_ready_card, actor, stranger, client_for):
        seal.seal(actor, make_ready_card())
        assert client_for(stranger).get("/api/audit/pdfs/").json() == {"made": 0, "whole": 0}
