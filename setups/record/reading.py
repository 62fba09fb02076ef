"""Reads a card's sealed texts back, with the personal values that are not erased: all that is ever laid
out."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from setups.models import JobCard, PersonalValue, SealedRecord
from setups.record.figures import as_read
from setups.record.layout import amended_value, amendment_words, when


@dataclass(frozen=True)
class Amendment:
    """An amendment as it is laid out; `change` is False where only the shop's internal part was amended."""

    number: int
    head: str
    who: str
    on: str
    change: bool
    place: str
    old: str = ""
    new: str = ""
    why: str = ""


@dataclass(frozen=True)
class Sealed:
    """A sealed card up to one link of its chain: `record` is the public document, `texts` what is attached
    to a PDF."""

    record: Mapping[str, Any]
    number: int
    head: str
    public_digest: str
    amendments: list[Amendment]
    personal: Mapping[str, Any]
    texts: Mapping[str, str]
    units: Mapping[str, str] | None = None

    @property
    def language(self) -> str:
        """Return the code of the language that it is in; before documents said it they were English."""
        return str(self.record.get("language", "en"))

    @property
    def shown_in(self) -> Mapping[str, str]:
        """Return the unit of each quantity that its readers see: `units`, else the record's own, else metric."""
        own: Mapping[str, str] = self.record.get("shown_in", {})
        return own if self.units is None else self.units


def links_of(card: JobCard) -> list[SealedRecord]:
    """Return the card's own links of the chain, the sealed card first; empty when it is not sealed."""
    return list(card.records.order_by("number"))


def read(links: list[SealedRecord], units: Mapping[str, str] | None = None) -> Sealed:
    """Return the sealed card and its amendments, up to the last of `links` (at least the card's own).

    `units`, one for each quantity, are shown instead of those that the record was sealed for.
    """
    first, last = links[0], links[-1]
    record = json.loads(first.public)
    zone = record["shop"]["time_zone"]
    sealed = Sealed(
        record=record,
        number=last.number,
        head=last.head,
        public_digest=last.public_digest,
        amendments=[],
        personal=kept(first),
        texts={f"record-{link.number}.json": link.public for link in links},
        units=units,
    )
    with as_read(sealed.language, sealed.shown_in):
        later = [amendment(record, link.number, link.head, json.loads(link.public), zone) for link in links[1:]]
    return replace(sealed, amendments=later)


def kept(record: SealedRecord) -> dict[str, Any]:
    """Return the personal values, by path, that have not been erased."""
    values: list[PersonalValue] = list(record.personal_values.filter(erased_at=None))
    return {value.path: value.value for value in values}


def amendment(record: Mapping[str, Any], number: int, head: str, document: Mapping[str, Any], zone: str) -> Amendment:
    """Return an amendment in the words in which it is laid out."""
    change, sealed = document["amendment"], document["record"]
    common = {
        "number": number,
        "head": head,
        "who": sealed["sealed_by"],
        "on": when(sealed["sealed_at"], zone),
    }
    if change is None:
        return Amendment(**common, change=False, place=document["note"].rstrip("."))
    return Amendment(
        **common,
        change=True,
        place=amendment_words(record, change),
        old=amended_value(change["path"], change["old"]),
        new=amended_value(change["path"], change["new"]),
        why=change["why"],
    )
