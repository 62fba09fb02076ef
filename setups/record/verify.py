"""Recomputes every digest and every link of a shop's chain, and says which record fails first, and why."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db import DatabaseError
from rfc8785 import CanonicalizationError

from setups.models import PersonalValue, SealedRecord
from setups.record.canonical import at_path, canonical, digest, is_committed
from shops.access import everywhere
from shops.models import Shop


@dataclass(frozen=True)
class Failure:
    """The first record of a chain that does not hold: its number, and one sentence why."""

    number: int
    why: str


@dataclass(frozen=True)
class Finding:
    """What the verification of one shop's chain found."""

    shop: str
    records: int
    failure: Failure | None


def moment(at: datetime) -> str:
    """Return a moment as the record writes it: RFC 3339, UTC, to the second."""
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def head_of(record: SealedRecord) -> str:
    """Return the head that the record's columns give: a digest over all of them, the previous head
    included."""
    return digest(
        canonical(
            {
                "card": record.card_id,
                "internal": record.internal_digest,
                "number": record.number,
                "previous": record.previous_head,
                "public": record.public_digest,
                "sealed_at": moment(record.sealed_at),
                "sealed_by": record.sealed_by_id,
                "shop": record.shop_id,
                "what": record.what,
            }
        )
    )


def first_failure(records: Iterable[SealedRecord], printed: Mapping[int, str] | None = None) -> Failure | None:
    """Return the first record of one shop's chain that fails, None when all hold.

    `records` come in the order of their numbers. `printed` are heads known from elsewhere (number → head, as
    a PDF
    prints them): without one, a newest record that was taken away leaves no gap to be seen.
    """
    printed = printed or {}
    previous, number = "", 0
    for record in records:
        number += 1
        if record.number != number:
            return Failure(number, f"record {number} is missing: the next one stored has number {record.number}")
        why = _why_not(record, previous) or _why_not_printed(record, printed)
        if why:
            return Failure(number, why)
        previous = record.head
    later = [wanted for wanted in sorted(printed) if wanted > number]
    if later:
        last = f"the chain ends at {number}" if number else "the chain is empty"
        return Failure(
            number + 1, f"record {number + 1} is missing: a head of number {later[0]} was printed, but {last}"
        )
    return None


def _why_not(record: SealedRecord, previous: str) -> str | None:
    """Return why one record does not hold after the head `previous`, None when it does."""
    try:
        return _difference(record, previous)
    except (UnicodeEncodeError, CanonicalizationError):
        return "it holds bytes that are no text"


def _difference(record: SealedRecord, previous: str) -> str | None:
    for part in ("public", "internal"):
        text = getattr(record, part)
        if digest(text) != getattr(record, f"{part}_digest"):
            return f"its {part} part was changed: the text does not give the stored digest"
        try:
            json.loads(text)
        except ValueError:
            return f"its {part} part is not JSON"
    if record.previous_head != previous:
        return "it does not follow the record before it: the previous head differs"
    if head_of(record) != record.head:
        return "its head is not that of its contents: number, card, person, time or a digest was changed"
    return None


def _why_not_printed(record: SealedRecord, printed: Mapping[int, str]) -> str | None:
    wanted = printed.get(record.number)
    if wanted is None or record.head == wanted.lower():
        return None
    return f"its head is not the printed one, {wanted[:16]}…"


def personal_failure(values: Iterable[PersonalValue]) -> Failure | None:
    """Return the first record one of whose kept personal values is not what the record commits to."""
    for value in values:
        if value.erased_at is not None:
            continue
        record = value.record
        documents: dict[str, Any] = {
            "public": json.loads(record.public),
            "internal": json.loads(record.internal),
        }
        part, _, path = value.path.partition(".")
        try:
            committed = at_path(documents[part], path)
        except KeyError:
            return Failure(record.number, f"it commits to no value at {value.path}, but one is kept")
        if not is_committed(committed, value.path, value.salt, value.value):
            return Failure(record.number, f"the personal value kept at {value.path} is not the one it commits to")
    return None


def verify_shop(shop: Shop, printed: Mapping[int, str] | None = None) -> Finding:
    """Verify one shop's whole chain and the personal values kept with it."""
    why = "verification reads every record of the shop"
    records = everywhere(SealedRecord, why=why).filter(shop=shop).order_by("number")
    numbers = list(records.values_list("number", flat=True))
    unread: list[int] = []

    def each() -> Iterator[SealedRecord]:
        # One by one: a text whose bytes were broken fails the query that fetches it, and must not hide which
        # it was.
        for number in numbers:
            try:
                yield records.get(number=number)
            except DatabaseError:
                unread.append(number)
                return

    failure = first_failure(each(), printed)
    if unread:
        failure = Failure(unread[0], "it cannot be read from the database: its bytes are no text")
    if failure is None:
        values = everywhere(PersonalValue, why=why).filter(record__shop=shop)
        failure = personal_failure(values.select_related("record").order_by("record__number", "path"))
    return Finding(shop.name, len(numbers), failure)
