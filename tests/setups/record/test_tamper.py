"""Every stored byte that carries meaning, changed in the database itself: verification names the record.

The chain of three links (two cards, an amendment) lies in the database with its personal values and a PDF. One
value is changed at a time, behind the triggers' back, as somebody could who owns the database; what the database
itself refuses to store has not been changed.
"""

from __future__ import annotations

import json
import random

import pytest
from django.db import DatabaseError, connection, transaction

from setups.models import PersonalValue, SealedRecord, StoredPdf
from setups.record import append_only, pdf, seal
from setups.record.verify import verify_shop
from shops.access import everywhere
from shops.trail import Actor
from tests import factories
from tests.setups.record.conftest import ready_card_maker

PLACES = 16
"""Bytes tried in each text: the first, the last, and others drawn with a fixed seed."""
ADDRESS = "https://shop.example/record"


@pytest.fixture(scope="module")
def later(frozen):
    """Seal another card and amend the first; the PDF's bytes are invented, for laying one out takes its time."""
    people = frozen["technician"], frozen["second_technician"]
    second = seal.seal(Actor(people[0]), ready_card_maker(frozen["shop"], *people)())
    change = {"path": "torques.0.value_nm", "new": 95, "why": "Misread the page."}
    amendment = seal.amend(Actor(people[0]), frozen["ready_card"], **change)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(pdf, "render", lambda sealed, address: b"%PDF-1.7 invented " + bytes(range(256)))
        pdf.pdf_of(frozen["sealed"], ADDRESS)
    return second.pk, amendment.pk


@pytest.fixture
def chain(sealed, later):
    """Return the links of the chain, which the database does not guard in this test."""
    links = [sealed, *(everywhere(SealedRecord, why="this test").get(pk=pk) for pk in later)]
    with connection.cursor() as cursor:
        for statement in append_only.lower_guard(connection.vendor):
            cursor.execute(statement)
    return links


def stored(table, column, pk):
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {column} FROM {table} WHERE id = %s", [pk])  # noqa: S608  # names of this test
        return cursor.fetchone()[0]


def found_after(shop, table, column, pk, value):
    """Return what verification finds with `value` in the place, "refused" if the database takes none such."""
    with transaction.atomic():
        try:
            with transaction.atomic(), connection.cursor() as cursor:
                cursor.execute(f"UPDATE {table} SET {column} = %s WHERE id = %s", [value, pk])  # noqa: S608
        except DatabaseError:
            return "refused"
        failure = verify_shop(shop).failure
        transaction.set_rollback(True)
    return failure


def changed(value, column):
    """Yield the value with single bytes changed (a number with another digit)."""
    draw = random.Random(column)  # noqa: S311  # repeatable on purpose
    raw = value.encode() if isinstance(value, str) else bytes(value)
    places = {0, len(raw) - 1, *(draw.randrange(len(raw)) for _ in range(PLACES))}
    for place in sorted(places):
        # Another ASCII character in place of one: still a text, so that both databases store it.
        if isinstance(value, str) and raw[place] > 127:
            continue
        other = draw.choice([byte for byte in b"0189aZf" if byte != raw[place]])
        new = raw[:place] + bytes([other]) + raw[place + 1 :]
        yield new.decode() if isinstance(value, str) else new


TEXTS = ("public", "internal", "public_digest", "internal_digest", "previous_head", "head", "what")
OTHER_ROW = ("shop", "card", "sealed_by", "id", "number")


def test_every_column_of_a_record_is_tried():
    """A column that is added later must be covered by the head, and be tried here."""
    assert {field.name for field in SealedRecord._meta.concrete_fields} == {*TEXTS, *OTHER_ROW, "sealed_at"}
    covered = {"id", "record", "path", "value", "salt", "shared", "erased_at"}
    assert {field.name for field in PersonalValue._meta.concrete_fields} == covered


def test_an_untouched_chain_holds(chain, shop):
    finding = verify_shop(shop)
    assert (finding.records, finding.failure) == (3, None)


def test_any_byte_of_a_records_text_is_detected_at_it(chain, shop):
    tried = 0
    for record in chain:
        for column in TEXTS:
            # The first link's previous head is empty: something is put there.
            for new in changed(getattr(record, column), column) if getattr(record, column) else ["0"]:
                found = found_after(shop, "setups_sealedrecord", column, record.pk, new)
                assert found == "refused" or found.number == record.number, (column, new[:80])
                tried += 1
    assert tried > 250


def test_another_row_behind_a_record_is_detected_at_it(chain, shop, sister_shop, second_technician):
    other_card = factories.JobCardFactory(shop=shop).pk
    for record in chain:
        for column, new in {"card_id": other_card, "sealed_by_id": second_technician.pk, "number": 7}.items():
            found = found_after(shop, "setups_sealedrecord", column, record.pk, new)
            assert found.number == record.number, column
        # Moved to another shop it is missing in its own, the newest to whoever holds a printed head.
        with transaction.atomic():
            SealedRecord.objects.filter(pk=record.pk).declare_scope().update(shop=sister_shop)
            assert verify_shop(shop, {3: chain[2].head}).failure.number == record.number
            assert verify_shop(sister_shop).failure is not None
            transaction.set_rollback(True)


def test_another_id_takes_the_personal_values_from_a_record(chain, shop):
    # An amendment has none, and its id means nothing.
    for record in chain[:2]:
        assert found_after(shop, "setups_sealedrecord", "id", record.pk, 900).number == record.number


def test_any_other_time_is_detected_at_its_record(chain, shop):
    """A fraction of a second, which no head would show, counts as a change."""
    for record in chain:
        written = record.sealed_at.strftime("%Y-%m-%d %H:%M:%S")
        tried = [written[:place] + digit + written[place + 1 :] for place in (3, 6, 9, 12, 15, 18) for digit in "012"]
        for new in (*tried, f"{written}.000001", f"{written}.5"):
            if new != written:
                found = found_after(shop, "setups_sealedrecord", "sealed_at", record.pk, new)
                assert found == "refused" or found.number == record.number, new


@pytest.mark.only_on("sqlite")
def test_a_time_that_is_none_any_more_is_detected(chain, shop):
    for new in ("2031-04-02 12:00:0x", "x", "", None, 12):
        found = found_after(shop, "setups_sealedrecord", "sealed_at", chain[1].pk, new)
        assert found == "refused" or found.number == 2, new


def test_a_record_taken_away_is_detected_the_newest_by_a_later_print(chain, shop):
    head = chain[2].head
    for record in chain:
        with transaction.atomic():
            for model in (PersonalValue, StoredPdf):
                model.objects.filter(record=record).declare_scope().delete()
            SealedRecord.objects.filter(pk=record.pk).declare_scope().delete()
            assert verify_shop(shop, {3: head}).failure.number == record.number
            transaction.set_rollback(True)


def test_every_personal_value_is_bound_to_its_record(chain, shop):
    """Value, salt, path and owner; one whose row is gone; one that is marked as erased and still there."""
    table, record = "setups_personalvalue", chain[1]
    values = list(record.personal_values.order_by("path"))
    assert len(values) > 30
    for kept in values[::3]:
        value, tries = stored(table, "value", kept.pk), []
        text = value if isinstance(value, str) else json.dumps(value)
        tries += [("value", new) for new in list(changed(text, kept.path))[:3]]
        tries += [("salt", new) for new in list(changed(kept.salt, kept.path))[:2]]
        tries += [("path", new) for new in list(changed(kept.path, kept.path))[:2]]
        tries += [("erased_at", "2031-04-02 12:00:00"), ("value", None)]
        for column, new in tries:
            found = found_after(shop, table, column, kept.pk, new)
            same = column == "value" and new is not None and _reads_as(new, kept.value)
            assert found == "refused" or same or found.number == record.number, (kept.path, column, new)
        assert found_after(shop, table, "record_id", kept.pk, chain[2].pk).number == record.number
        with transaction.atomic():
            PersonalValue.objects.filter(pk=kept.pk).declare_scope().delete()
            assert kept.path in verify_shop(shop).failure.why
            transaction.set_rollback(True)


def _reads_as(text, value):
    """Return whether a changed JSON text says the same after all: 1.0 for 1, as JSON has but one number."""
    try:
        return json.loads(text) == value
    except ValueError:
        return False


def test_any_byte_of_a_stored_pdf_is_detected(chain, shop):
    kept = chain[0].pdf
    for column in ("content", "content_digest"):
        for new in changed(getattr(kept, column), column):
            assert found_after(shop, "setups_storedpdf", column, kept.pk, new).number == 1, column


def test_two_failures_are_told_from_the_first_on(chain, shop):
    value = chain[0].personal_values.get(path="public.customer.name")
    PersonalValue.objects.filter(pk=value.pk).declare_scope().update(value="Somebody Else")
    SealedRecord.objects.filter(pk=chain[1].pk).declare_scope().update(what="amendment")
    assert verify_shop(shop).failure.number == 1
