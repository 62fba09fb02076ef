"""Reads a card's sealed texts back, with the personal values that are not erased: all that is ever laid
out."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from setups.figures import as_read
from setups.models import JobCard, PersonalValue, SealedRecord
from setups.record.canonical import at_path, committed_paths
from setups.record.correction import put
from setups.record.document import FIRST_FORMAT, TEXTS
from setups.record.layout import amended_value, amendment_words, when
from shops.access import everywhere

AMENDED = ("amendment.old", "amendment.new")
"""Where an amendment commits to words."""


def erased_words() -> str:
    """Return what is laid out in the place of words that were erased."""
    return _("Erased on request")


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
    """A sealed card up to one link of its chain: `record` is the public document with its texts filled in (or said to
    be erased), `texts` what is attached to a PDF."""

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
    personal = kept(first)
    record = json.loads(first.public)
    zone = record["shop"]["time_zone"]
    sealed = Sealed(
        record=record,
        number=last.number,
        head=last.head,
        public_digest=last.public_digest,
        amendments=[],
        personal=personal,
        texts={f"record-{link.number}.json": link.public for link in links if not _tells_what_is_erased(first, link)},
        units=units,
    )
    with as_read(sealed.language, sealed.shown_in):
        record = told(first, "public", personal)
        later = [
            amendment(record, link.number, link.head, told(link, "public", kept(link), first), zone)
            for link in links[1:]
        ]
    return replace(sealed, record=record, amendments=later)


def kept(record: SealedRecord) -> dict[str, Any]:
    """Return the personal values, by path, that have not been erased."""
    values: list[PersonalValue] = list(record.personal_values.filter(erased_at=None))
    return {value.path: value.value for value in values}


def texts(first: SealedRecord) -> dict[str, Any]:
    """Return the kept words of the public part by their place: an amendment may correct these."""
    found = {path.removeprefix("public."): value for path, value in kept(first).items() if path.startswith("public.")}
    return {place: value for place, value in found.items() if TEXTS.fullmatch(place)}


def frozen(link: SealedRecord, part: str, first: SealedRecord) -> dict[str, Any]:
    """Return one part of a link as it was frozen, but for words in the clear that were erased since."""
    if _tells_what_is_erased(first, link):
        return told(link, part, {}, first)
    document: dict[str, Any] = json.loads(getattr(link, part))
    return document


def is_erased(first: SealedRecord) -> bool:
    """Tell whether the personal values of a sealed card were erased."""
    return first.personal_values.filter(erased_at__isnull=False).exists()


def changes_of(amendments: Sequence[SealedRecord]) -> list[dict[str, Any]]:
    """Return what each amendment changed, its words told or said to be erased; asks the database twice for all."""
    values = everywhere(PersonalValue, why="beside amendments that the caller holds")
    personal: dict[int, dict[str, Any]] = {}
    for value in values.filter(record__in=amendments, erased_at=None):
        personal.setdefault(value.record_id, {})[value.path] = value.value
    erased = values.filter(record__card__in=[one.card_id for one in amendments], erased_at__isnull=False)
    silent = set(erased.values_list("record__card", flat=True))
    found = []
    for one in amendments:
        part = "public" if json.loads(one.public)["amendment"] else "internal"
        document = filled(json.loads(getattr(one, part)), part, personal.get(one.pk, {}))
        if one.card_id in silent and document.get("format") in FIRST_FORMAT:
            _silence(document)
        found.append(document["amendment"])
    return found


def _tells_what_is_erased(first: SealedRecord, link: SealedRecord) -> bool:
    """Tell whether a link's own text still holds, in the clear, words that were erased: the first format did so."""
    return json.loads(link.public)["format"] in FIRST_FORMAT and is_erased(first)


def told(
    link: SealedRecord, part: str, personal: Mapping[str, Any], first: SealedRecord | None = None
) -> dict[str, Any]:
    """Return one part of a link of the chain with the texts that it commits to, or that they are erased.

    `personal` are the link's own kept values; `first` is the card's own link, where this one is an amendment.
    """
    document = filled(json.loads(getattr(link, part)), part, personal)
    if document["format"] in FIRST_FORMAT and is_erased(first or link):
        _silence(document)
    return document


def filled(document: dict[str, Any], part: str, personal: Mapping[str, Any]) -> dict[str, Any]:
    """Return a part of a record with its texts, from the kept values, in the places of their commitments."""
    for path in list(committed_paths(document, part)):
        place = path.removeprefix(f"{part}.")
        if TEXTS.fullmatch(place) or place in AMENDED:
            put(document, place, personal.get(path, erased_words()))
    return document


def _silence(document: dict[str, Any]) -> None:
    """Put the word of the erasure in the place of every text that a document of the first format holds."""
    change = document.get("amendment")
    if change and TEXTS.fullmatch(change["path"]):
        change |= {"old": erased_words(), "new": erased_words()}
    for path in _leaves(document):
        if TEXTS.fullmatch(path) and at_path(document, path):
            put(document, path, erased_words())


def _leaves(value: Any, path: str = "") -> list[str]:
    inside: Any = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else None
    if inside is None:
        return [path]
    return [leaf for key, one in inside for leaf in _leaves(one, f"{path}.{key}" if path else str(key))]


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
