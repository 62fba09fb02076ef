"""Recomputes every digest and every link of a shop's chain, and says which record fails first, and why."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db import DatabaseError
from django.db.models import Prefetch, Q
from rfc8785 import CanonicalizationError

from setups.models import Erasure, PersonalValue, SealedRecord, StoredPdf
from setups.photo_models import Photo
from setups.record.canonical import at_path, canonical, committed_paths, digest, is_committed
from shops.access import everywhere
from shops.models import Shop

BATCH = 100
UNREADABLE = (DatabaseError, ValueError, TypeError, OverflowError)
"""What reading a row raises whose bytes are no text, no time or no number any more."""


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


def first_failure(
    records: Iterable[SealedRecord], printed: Mapping[int, str] | None = None, *, after: int = 0, head: str = ""
) -> Failure | None:
    """Return the first record of one shop's chain that fails, None when all hold.

    `records` come in the order of their numbers. `printed` are heads known from elsewhere (number → head, as
    a PDF
    prints them): without one, a newest record that was taken away leaves no gap to be seen. A part of a chain
    is told `after` which number it follows, and that record's `head`.
    """
    printed = printed or {}
    previous, number = head, after
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
    # Sealed to the second: a fraction would not show in the head.
    if not isinstance(record.sealed_at, datetime) or record.sealed_at.microsecond:
        return "its time was changed: it is none that a record is sealed at"
    if head_of(record) != record.head:
        return "its head is not that of its contents: number, card, person, time or a digest was changed"
    return None


def _why_not_printed(record: SealedRecord, printed: Mapping[int, str]) -> str | None:
    wanted = printed.get(record.number)
    if wanted is None or record.head == wanted.lower():
        return None
    return f"its head is not the printed one, {wanted[:16]}…"


def why_not_personal(record: SealedRecord, values: Iterable[PersonalValue]) -> str | None:
    """Return why the personal values kept with one record are not those it commits to, None when they are.

    An erased value leaves its row, empty: one whose row is gone was taken away, not erased.
    """
    documents: dict[str, Any] = {"public": json.loads(record.public), "internal": json.loads(record.internal)}
    missing = {path for part, document in documents.items() for path in committed_paths(document, part)}
    for value in values:
        if value.path not in missing:
            return f"it commits to no value at {value.path}, but one is kept"
        missing.remove(value.path)
        if value.erased_at is not None:
            if value.value is not None or value.salt:
                return f"the personal value at {value.path} is marked as erased, but is kept"
            continue
        part, _, path = value.path.partition(".")
        if not is_committed(at_path(documents[part], path), value.path, value.salt, value.value):
            return f"the personal value kept at {value.path} is not the one it commits to"
    if missing:
        return f"the personal value at {min(missing)} was taken away without being erased"
    return None


def _why_not_kept(record: SealedRecord) -> str | None:
    """Return why what is kept beside a record, its personal values and its PDF, does not belong to it."""
    try:
        why = why_not_personal(record, record.personal_values.all())
    except (UnicodeEncodeError, CanonicalizationError):
        return "one of its personal values holds bytes that are no text"
    stored = getattr(record, "pdf", None)
    if why is None and stored is not None and hashlib.sha256(stored.content).hexdigest() != stored.content_digest:
        return "its stored PDF was changed: the bytes do not give the stored digest"
    return why or _why_not_photos(record)


def _why_not_photos(record: SealedRecord) -> str | None:
    """Return why the photos kept with a record are not those that it names; a record before photos names none."""
    named = [photo["sha256"] for photo in json.loads(record.public).get("photos", [])]
    if not named:
        return None
    photos = everywhere(Photo, why="kept with the record").filter(card=record.card_id)
    kept = {hashlib.sha256(content).hexdigest() for content in photos.values_list("content", flat=True).iterator()}
    # Of an erased one only the digest is left, and who erased it stands in the list of erasures.
    gone = photos.filter(erased_at__isnull=False, content=b"", small=b"", pk__in=_erased_photos(record))
    kept |= set(gone.values_list("sha256", flat=True))
    return None if kept.issuperset(named) else "a photo that it names was changed or taken away"


def _erased_photos(record: SealedRecord) -> Any:
    """Return the ids of the card's photos that an erasure names: itself, its card, or its customer."""
    named = Q(photo__card=record.card_id) | Q(card=record.card_id) | Q(customer=record.card.customer_id)
    erasures = everywhere(Erasure, why="kept with the record").filter(named)
    if erasures.filter(photo=None).exists():
        return everywhere(Photo, why="kept with the record").filter(card=record.card_id).values("pk")
    return erasures.values("photo")


def verify_shop(shop: Shop, printed: Mapping[int, str] | None = None) -> Finding:
    """Verify one shop's whole chain, and the personal values and PDFs kept with it."""
    records = _records(shop)
    return _verify(shop, records, list(records.values_list("number", flat=True)), printed)


def verify_slice(shop: Shop, after: int, most: int) -> Finding:
    """Verify at most `most` records of one shop's chain that follow number `after`, as if those before hold."""
    records = _records(shop)
    numbers = list(records.filter(number__gt=after).values_list("number", flat=True)[:most])
    head = records.filter(number=after).values_list("head", flat=True).first()
    if after and head is None:
        return Finding(shop.name, 0, Failure(after, f"record {after} is missing"))
    return _verify(shop, records, numbers, None, after=after, head=head or "")


def _records(shop: Shop) -> Any:
    why = "verification reads every record of the shop"
    return everywhere(SealedRecord, why=why).filter(shop=shop).order_by("number")


def _verify(
    shop: Shop, records: Any, numbers: Sequence[int], printed: Mapping[int, str] | None, **start: Any
) -> Finding:
    unread: list[int] = []
    beside: list[Failure] = []

    def each() -> Iterator[SealedRecord]:
        for record in _one_by_one(records, numbers, unread):
            yield record
            # The chain holds up to here: else nobody asks for the next one.
            if not beside and (found := _why_not_kept(record)):
                beside.append(Failure(record.number, found))

    failure = first_failure(each(), printed, **start)
    if unread:
        failure = Failure(unread[0], "it cannot be read from the database: its bytes are no text")
    failed = [one for one in (failure, *beside) if one is not None]
    return Finding(shop.name, len(numbers), min(failed, key=lambda one: one.number, default=None))


def _one_by_one(records: Any, numbers: Sequence[int], unread: list[int]) -> Iterator[SealedRecord]:
    """Yield the records of these numbers, fetched in batches; `unread` gets the first that cannot be read.

    A text whose bytes were broken fails the query that fetches it: that batch is fetched again one by one, so
    that it does not hide which record it was.
    """
    beside = (
        Prefetch("personal_values", everywhere(PersonalValue, why="kept with the record").order_by("path")),
        Prefetch("pdf", everywhere(StoredPdf, why="kept with the record")),
    )
    whole = records.prefetch_related(*beside)
    for start in range(0, len(numbers), BATCH):
        batch = numbers[start : start + BATCH]
        try:
            found = list(whole.filter(number__in=batch))
        except UNREADABLE:
            for number in batch:
                try:
                    found = list(whole.filter(number=number))
                except UNREADABLE:
                    unread.append(number)
                    return
                yield from found
        else:
            yield from found
