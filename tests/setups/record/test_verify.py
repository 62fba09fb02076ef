"""Verification: whatever is changed or taken away shows, and the first record that fails is named."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setups.models import PersonalValue, SealedRecord
from setups.record import append_only, seal
from setups.record.canonical import canonical, digest
from setups.record.validity import validity
from setups.record.verify import first_failure, head_of, verify_shop

COLUMNS = ("public", "internal", "public_digest", "internal_digest", "previous_head", "head", "what")


def chain(length=4):
    """A chain of invented records, unsaved: verification needs no database."""
    records, previous = [], ""
    for number in range(1, length + 1):
        texts = {
            part: canonical({"part": part, "number": number, "note": "ä € 4.6 N/mm"}) for part in ("public", "internal")
        }
        record = SealedRecord(
            shop_id=1,
            card_id=number,
            what="card",
            number=number,
            previous_head=previous,
            sealed_by_id=3,
            sealed_at=datetime(2031, 4, 2, 12, tzinfo=UTC) + timedelta(days=number),
            public_digest=digest(texts["public"]),
            internal_digest=digest(texts["internal"]),
            **texts,
        )
        record.head = previous = head_of(record)
        records.append(record)
    return records


def test_an_untouched_chain_holds():
    records = chain()
    assert first_failure(records) is None
    assert first_failure(records, {4: records[-1].head}) is None
    assert first_failure([]) is None


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])  # a busy machine is no defect
@given(st.data())
def test_any_single_changed_byte_of_any_text_is_detected_at_its_record(data):
    records = chain()
    place = data.draw(st.integers(0, len(records) - 1))
    column = data.draw(st.sampled_from([name for name in COLUMNS if getattr(records[place], name)]))
    raw = bytearray(getattr(records[place], column).encode("utf-8"))
    at = data.draw(st.integers(0, len(raw) - 1))
    raw[at] = data.draw(st.integers(0, 255).filter(lambda byte: byte != raw[at]))
    setattr(records[place], column, raw.decode("utf-8", errors="surrogateescape"))

    failure = first_failure(records)

    assert failure is not None
    assert failure.number == records[place].number


@pytest.mark.parametrize("column", ["card_id", "shop_id", "sealed_by_id", "number"])
def test_a_changed_number_or_person_is_detected(column):
    records = chain()
    setattr(records[1], column, getattr(records[1], column) + 7)
    assert first_failure(records).number == 2


def test_a_changed_time_is_detected():
    records = chain()
    records[2].sealed_at += timedelta(seconds=1)
    assert first_failure(records).number == 3


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 3))
def test_a_record_taken_away_is_detected(place):
    records = chain()
    newest = records[-1]
    del records[place]

    failure = first_failure(records, {newest.number: newest.head})

    assert failure.number == place + 1
    assert "missing" in failure.why


def test_a_newest_record_taken_away_shows_only_with_a_printed_head():
    """A chain that ends early looks whole: this is why the PDF prints number and head."""
    records = chain()
    newest = records.pop()
    assert first_failure(records) is None
    assert first_failure(records, {newest.number: newest.head}).number == newest.number


def test_a_newest_record_replaced_by_a_well_formed_one_shows_with_a_printed_head():
    records, other = chain(), chain()
    other[-1].public = canonical({"forged": True})
    other[-1].public_digest = digest(other[-1].public)
    other[-1].head = head_of(other[-1])
    assert first_failure(other) is None
    failure = first_failure(other, {4: records[-1].head})
    assert failure.number == 4
    assert "printed" in failure.why


@pytest.fixture
def unguarded(db):
    """Take the triggers away, as somebody who owns the database could."""
    with connection.cursor() as cursor:
        for statement in append_only.lower_guard(connection.vendor):
            cursor.execute(statement)


def run(*arguments):
    out = StringIO()
    call_command("verify", *arguments, stdout=out)
    return out.getvalue()


@pytest.mark.only_on("sqlite")  # PostgreSQL stores no broken text
def test_bytes_broken_in_the_database_file_are_found_at_their_record(sealed, shop, unguarded):
    with connection.cursor() as cursor:
        cursor.execute("UPDATE setups_sealedrecord SET public = CAST(x'7bff7d' AS TEXT) WHERE id = %s", [sealed.pk])
    failure = verify_shop(shop).failure
    assert failure.number == 1
    assert "cannot be read" in failure.why


class TestCommand:
    def test_it_says_that_the_records_hold(self, sealed):
        assert "1 records hold" in run()
        assert "1 records hold" in run("--shop", "HY", "--printed", f"1:{sealed.head.upper()}")

    def test_it_names_the_first_record_that_fails_and_why(self, sealed, make_ready_card, actor, unguarded, capsys):
        second = seal.seal(actor, make_ready_card())
        rows = SealedRecord.objects.filter(pk=second.pk).declare_scope()
        rows.update(public=second.public.replace('"value_nm":90', '"value_nm":70'))
        out = StringIO()
        with pytest.raises(CommandError, match="do not hold"):
            call_command("verify", stdout=out)
        assert "record 2 FAILS" in out.getvalue()
        assert "public part was changed" in out.getvalue()

    def test_it_sees_a_newest_record_that_was_taken_away(self, sealed, make_ready_card, actor, unguarded):
        second = seal.seal(actor, make_ready_card())
        PersonalValue.objects.filter(record=second).declare_scope().delete()
        SealedRecord.objects.filter(pk=second.pk).declare_scope().delete()
        assert "1 records hold" in run()
        with pytest.raises(CommandError):
            run("--shop", "HY", "--printed", f"2:{second.head}")

    @pytest.mark.parametrize("printed", ["2", "x:12", "1:" + "g" * 64, "1:abc"])
    def test_a_printed_head_that_is_none_is_refused(self, sealed, printed):
        with pytest.raises(CommandError, match="NUMBER:HEAD"):
            run("--shop", "HY", "--printed", printed)

    def test_an_unknown_shop_is_refused(self, sealed):
        with pytest.raises(CommandError, match="no such shop"):
            run("--shop", "??")


def test_a_changed_personal_value_is_detected_and_an_erased_one_is_not_missed(sealed, shop):
    kept = sealed.personal_values.get(path="public.rider.mass_in_kit_kg")
    kept.value = 70.0
    kept.save()
    assert "public.rider.mass_in_kit_kg" in verify_shop(shop).failure.why

    kept.value, kept.salt, kept.erased_at = None, "", sealed.sealed_at
    kept.save()
    assert verify_shop(shop).failure is None


def test_the_validity_page_says_valid_and_tells_nothing_personal(sealed):
    told = validity(sealed.number, sealed.head)
    assert told["title"] == "Valid"
    for personal in ("Marrant", "QX 771", "Kestrel", "83.25"):
        assert personal not in told["html"]
    assert validity(sealed.number, "0" * 64)["title"] == "No such record"
    assert validity(sealed.number + 1, sealed.head)["title"] == "No such record"


def test_the_validity_page_says_not_valid_when_the_stored_text_was_changed(sealed, unguarded):
    SealedRecord.objects.filter(pk=sealed.pk).declare_scope().update(public=sealed.public.replace("90", "91", 1))
    assert validity(sealed.number, sealed.head)["title"] == "Not valid"
