"""The journal of erasures, kept outside the database: ids and no value, so that a restored backup can follow it.

It is a file in the data folder (`erasures.jsonl`), one JSON object a line. A business is known by its id and the moment
at which it was founded: another installation's rows with the same ids are none of its concern.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import transaction

from calc.words import mark
from setups.data.forgetting import forget_customer, forget_photo, forget_record
from setups.models import Customer, Erasure, JobCard
from setups.photo_models import Photo
from shops.access import everywhere
from shops.models import AuditEntry, Business

PUT_BACK = mark("A backup from before the erasure was put back.")
"""The service's own reason in the trail: kept in English, said when it is read."""
WHY = "erasures are done again on what came back from a backup"


@dataclass(frozen=True)
class Entry:
    """One erasure: a customer's, one card's or one photo's, of which business, and when (ISO 8601)."""

    business: int
    founded: str
    customer: int | None
    card: int | None
    at: str
    photo: int | None = None


def place() -> Path:
    """Return where the journal is."""
    return Path(settings.DATA, "erasures.jsonl")


def entry_of(erasure: Erasure) -> Entry:
    """Return the journal's entry of an erasure."""
    founded = erasure.business.created_at.isoformat()
    which = (erasure.customer_id, erasure.card_id)
    return Entry(erasure.business_id, founded, *which, erasure.at.isoformat(), erasure.photo_id)


def note(erasure: Erasure) -> None:
    """Add an erasure to the journal once its transaction is through."""
    entry = entry_of(erasure)
    transaction.on_commit(lambda: _append([entry]))


def _append(entries: Iterable[Entry]) -> None:
    text = "".join(json.dumps(asdict(entry)) + "\n" for entry in entries)
    descriptor = os.open(place(), os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    with open(descriptor, "a", encoding="ascii") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())


def known(path: Path | None = None) -> list[Entry]:
    """Return the journal's entries and, with the same meaning, those of the database as it stands.

    A line that was cut short by a crash is left out; raises OSError where a file that was named cannot be read.
    """
    found = {entry_of(one) for one in everywhere(Erasure, why=WHY).select_related("business")}
    for file in [path] if path else [place()] if place().exists() else []:
        for line in file.read_text(encoding="utf-8").splitlines():
            try:
                found.add(Entry(**json.loads(line)))
            except (ValueError, TypeError):
                continue
    return sorted(found, key=lambda entry: entry.at)


def follow(entries: Iterable[Entry]) -> int:
    """Erase again what `entries` name and what stands here unerased; return how many erasures that took.

    Call it in the transaction that put the rows back.
    """
    return sum(_again(entry) for entry in entries)


def _again(entry: Entry) -> bool:
    business = Business.objects.filter(pk=entry.business).first()
    if business is None or business.created_at != datetime.fromisoformat(entry.founded):
        return False
    which = {"customer_id": entry.customer, "card_id": entry.card, "photo_id": entry.photo}
    done = everywhere(Erasure, why=WHY).filter(business=business, **which)
    if done.exists():
        return False
    subject: Customer | JobCard | Photo | None = None
    if entry.customer is not None:
        subject = everywhere(Customer, why=WHY).filter(business=business, pk=entry.customer).first()
    elif entry.card is not None:
        subject = everywhere(JobCard, why=WHY).filter(business=business, pk=entry.card).first()
    elif entry.photo is not None:
        subject = everywhere(Photo, why=WHY).filter(card__business=business, pk=entry.photo).first()
    if subject is None:
        return False
    counts = _forget(subject)
    Erasure.objects.create(business=business, at=datetime.fromisoformat(entry.at), **which)
    AuditEntry.objects.create(
        business=business, verb="erase again", subject=str(subject._meta.model_name), subject_id=subject.pk,
        after=counts, reason=PUT_BACK,
    )  # fmt: skip
    return True


def _forget(subject: Customer | JobCard | Photo) -> dict[str, int]:
    if isinstance(subject, Customer):
        return forget_customer(subject)
    return {"values": forget_record(subject)} if isinstance(subject, JobCard) else {"photos": forget_photo(subject)}
