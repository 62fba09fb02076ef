"""Sealing a card and amending what is sealed: the only two ways in which a shop's chain grows."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from calc.refusal import Problem, Refusal
from setups import blockers, sag_totals
from setups.learned import built_sags
from setups.models import Bike, JobCard, PersonalValue, SealedRecord
from setups.naming import require_nobody_named
from setups.record.canonical import at_path, canonical, digest
from setups.record.correction import LONGEST_TEXT, check_new, put
from setups.record.document import AMENDMENT_FORMAT, TEXTS, Documents, Heading, build, program
from setups.record.gather import gather
from setups.record.reading import erased_words, is_erased, kept, told
from setups.record.verify import head_of, moment
from setups.verbs.shelf import take_from_shelf
from shops import trail
from shops.access import everywhere
from shops.models import Shop
from shops.refusals import Blocked, blocked

FIXED = (
    "format", "program", "language", "shown_in", "record", "pictures", "results", "inputs", "sag", "verdicts", "units",
    "corrections", "overrides", "photos",
)  # fmt: skip
"""What the record computed or says of itself: only what people entered can have been wrong."""
FIXED_INSIDE = ("format", "record", "card", "bike", "customer", "rider", "trail", "results", "estimate")
"""The same of the internal part."""
PERSONAL_NAMES = JobCard.personal_fields | Bike.personal_fields
"""What must not stand in the trail, which nobody can erase."""
UNLEARNED = ("readings", "settings", "bike")
"""Where an amendment says that what was computed or measured of the bike as built rested on a wrong value."""


def seal(actor: trail.Actor, card: JobCard) -> SealedRecord:
    """Freeze the card, number it and chain it to the shop's previous record.

    Raises Blocked with everything that is missing (each problem's field is the step it belongs to), or when
    the card is
    sealed already.
    """
    with transaction.atomic():
        shop, card = _lock(card)
        if card.records.filter(what=SealedRecord.What.CARD).exists():
            raise blocked(
                "already_sealed", _("Card {card} is sealed; it can only be amended.").format(card=card.number)
            )
        if found := blockers.blockers(card):
            raise Blocked(*(Problem(one["step"], one["code"], one["text"]) for one in found))
        now = timezone.now().replace(microsecond=0)
        number, previous = _next_link(shop)
        heading = Heading(number, moment(now), actor.person.name)
        with translation.override(shop.language):
            documents = build(gather(card), heading)
        record = SealedRecord(
            shop=shop,
            card=card,
            what=SealedRecord.What.CARD,
            number=number,
            previous_head=previous,
            sealed_by=actor.person,
            sealed_at=now,
        )
        _append(record, documents)
        take_from_shelf(actor, card)
        sag_totals.learn(built_sags(card, now))
        before = {"step": card.step}
        card.step = JobCard.Step.SEALED
        card.version += 1
        card.save(update_fields=["step", "version"])
        trail.record(actor, "seal card", card, before, {"step": card.step, "record": number, "head": record.head})
    return record


def amend(actor: trail.Actor, card: JobCard, *, path: str, new: Any, why: str) -> SealedRecord:
    """Add an amendment to a sealed card's record: old value, new value, who, when, why. The record itself
    stays.

    `path` is the dotted place in the public document ("torques.0.value_nm"), or, beginning with "internal.",
    in the
    internal one; it must lead to a single value that is not personal, and `new` must pass what the card asked
    of that field. Raises Refusal with what is wrong
    and Blocked where nothing is sealed.
    """
    with transaction.atomic():
        shop, card = _lock(card)
        sealed = card.records.filter(what=SealedRecord.What.CARD).first()
        if sealed is None:
            raise blocked(
                "not_sealed", _("Card {card} is not sealed: change the card itself.").format(card=card.number)
            )
        part, place, document = _amended(sealed, card, path)
        _check(document, place, new, why)
        require_nobody_named(card, why, "why")
        now = timezone.now().replace(microsecond=0)
        number, previous = _next_link(shop)
        old = at_path(document, place)
        documents = Documents()
        change = {"path": place, "old": old, "new": new, "why": why.strip()}
        if TEXTS.fullmatch(place):
            path_of = f"{part}.amendment"
            words = {"old": documents.commit(f"{path_of}.old", old, shared=True)}
            change |= words | {"new": documents.commit(f"{path_of}.new", new, shared=True)}
        common = {
            "format": AMENDMENT_FORMAT,
            "program": program(),
            "record": {"number": number, "sealed_at": moment(now), "sealed_by": actor.person.name},
            "amends": {"number": sealed.number, "head": sealed.head},
            "card": {"number": card.number},
        }
        with translation.override(shop.language):
            hidden = _("A note of the shop's internal part was amended.")
        public = common | ({"amendment": change} if part == "public" else {"amendment": None, "note": hidden})
        internal = common | {"amendment": change if part == "internal" else None}
        record = SealedRecord(
            shop=shop,
            card=card,
            what=SealedRecord.What.AMENDMENT,
            number=number,
            previous_head=previous,
            sealed_by=actor.person,
            sealed_at=now,
        )
        documents.public, documents.internal = public, internal
        _append(record, documents)
        if place.split(".")[0] in UNLEARNED:
            sag_totals.leave_out(card, f"{number} {place}")
        trail.record(
            actor,
            "amend record",
            card,
            {"path": path, "value": _told(place, old)},
            {"path": path, "value": _told(place, new), "record": number, "head": record.head},
            reason=why,
        )
    return record


def _told(place: str, value: Any) -> Any:
    """Return what the trail may keep of an amended value: a mark where it is a person's."""
    return trail.PERSONAL if TEXTS.fullmatch(place) or PERSONAL_NAMES & set(place.split(".")) else value


def _lock(card: JobCard) -> tuple[Shop, JobCard]:
    """Lock the shop's chain, then the card.

    On PostgreSQL the rows are locked; on SQLite the transaction began IMMEDIATE, so that no other writer is
    under way.
    Either way the second of two seals waits here and reads the head that the first has written.
    """
    why = "the caller holds a row of this shop"
    shop = everywhere(Shop, why=why).select_for_update().get(pk=card.shop_id)
    return shop, everywhere(JobCard, why=why).select_for_update().get(pk=card.pk)


def _next_link(shop: Shop) -> tuple[int, str]:
    last = shop.records.order_by("-number").only("number", "head").first()
    return (last.number + 1, last.head) if last else (1, "")


def _append(record: SealedRecord, documents: Documents) -> None:
    record.public = canonical(documents.public)
    record.internal = canonical(documents.internal)
    record.public_digest = digest(record.public)
    record.internal_digest = digest(record.internal)
    record.head = head_of(record)
    record.save(force_insert=True)
    for one in documents.personal:
        PersonalValue.objects.create(record=record, path=one.path, value=one.value, salt=one.salt, shared=one.shared)


def _amended(sealed: SealedRecord, card: JobCard, path: str) -> tuple[str, str, dict[str, Any]]:
    """Return the part and the place that `path` names, and that part as it stands after earlier amendments."""
    part, place = ("internal", path.removeprefix("internal.")) if path.startswith("internal.") else ("public", path)
    unknown = Problem("path", "unknown_path", _("The sealed record has nothing at {path!r}.").format(path=path), path)
    document = told(sealed, part, kept(sealed))
    try:
        old = at_path(document, place)
    except KeyError:
        raise Refusal(unknown) from None
    if old == erased_words() and is_erased(sealed):
        said = _("{path!r} was erased on request; it cannot be amended.").format(path=path)
        raise Refusal(Problem("path", "erased", said, path))
    if isinstance(old, dict | list):
        personal = isinstance(old, dict) and "commitment" in old
        text = _("{path!r} is more than a single value; it cannot be amended.")
        if personal:
            text = _("{path!r} holds a personal value, which the record does not contain; it cannot be amended.")
        raise Refusal(Problem("path", "not_amendable", text.format(path=path), path))
    if place.split(".")[0] in (FIXED if part == "public" else FIXED_INSIDE):
        text = _("{path!r} is the record's own; it cannot be amended.").format(path=path)
        raise Refusal(Problem("path", "not_amendable", text, path))
    for later in card.records.filter(what=SealedRecord.What.AMENDMENT).order_by("number"):
        change = told(later, part, kept(later), sealed).get("amendment")
        if change:
            put(document, change["path"], change["new"])
    return part, place, document


def _check(document: dict[str, Any], place: str, new: Any, why: str) -> None:
    """Refuse a new value that the card would not have taken, one that changes nothing, and a missing reason."""
    problems = check_new(document, place, at_path(document, place), new)
    if not why.strip() or len(why) > LONGEST_TEXT:
        problems.append(
            Problem(
                "why",
                "no_reason",
                _("Say why, in 1 to {most} characters: it stays with the record.").format(most=LONGEST_TEXT),
            )
        )
    if problems:
        raise Refusal(*problems)
