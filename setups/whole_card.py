"""THE CARD: a card and all that hangs on it as one plain mapping, for the screen and for the sealed record
alike.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from django.db.models import Prefetch, prefetch_related_objects

from calc.refusal import Problem
from calc.sag import BANDS as SAG_BANDS
from calc.words import say
from setups import blockers, cautions, estimates, former_owner, measured, sums
from setups.approval_models import Estimate, EstimateAsk, Override
from setups.models import Bike, CustomerLink, JobCard, PartLine, Reading, SealedRecord, SignOff, TorqueLine
from setups.photo_models import Photo
from setups.sag_corrections import correction_of
from shops import money
from shops.access import Scoped, everywhere
from shops.models import Person

_HELD = "what hangs on a card that is already held"
_FACE = (
    "id",
    "version",
    "number",
    "step",
    "loose",
    "loose_description",
    "loose_front",
    "loose_rear",
    "complaint",
    "internal_notes",
    "explanation",
    "distance_km",
    "hours",
    "next_service_note",
    "altitude_m",
    "cases",
)


def with_parts(card: JobCard) -> JobCard:
    """Return the card with everything that hangs on it fetched, so that reading it asks the database
    no more.
    """
    card.__dict__.pop("_prefetched_objects_cache", None)

    def parts(name: str, model: type[Scoped], *related: str) -> Prefetch[Any, Any, Any]:
        return Prefetch(name, everywhere(model, why=_HELD).select_related(*related))

    prefetch_related_objects(
        [card],
        parts("readings", Reading, "taken_by"),
        "settings",
        parts("torques", TorqueLine, "wrench", "tightened_by", "checked_by"),
        parts("parts", PartLine, "spring"),
        "cautions_read__read_by",
        parts("sign_offs", SignOff, "by"),
        parts("overrides", Override, "by"),
        parts("estimate", Estimate),
        parts("asks", EstimateAsk, "made_by"),
        "asks__openings",
        # The pictures themselves are fetched by their own address.
        Prefetch("photos", everywhere(Photo, why=_HELD).defer("content", "small").select_related("taken_by")),
        parts("records", SealedRecord, "sealed_by"),
        parts("links", CustomerLink, "made_by"),
        "links__openings",
    )
    return card


def whole_card(card: JobCard, person: Person | None = None) -> dict[str, Any]:
    """Return the card as the API answers it; `person` (None: nobody may change it) is who looks.

    A former owner's card comes to a technician without what is the owner's (see `setups.former_owner`).
    Times are RFC 3339 in UTC, dates ISO 8601, numbers metric with the unit in the field's name.
    """
    with_parts(card)
    if person is not None and former_owner.hidden_from(card, person):
        return former_owner.without_person(_everything(card, person))
    return _everything(card, person)


def _everything(card: JobCard, person: Person | None) -> dict[str, Any]:
    sealed = card.step == JobCard.Step.SEALED
    mine = person is not None and (person.role == Person.Role.OWNER or person.shop_id == card.shop_id)
    return {
        **{name: getattr(card, name) for name in _FACE},
        "shop": card.shop_id,
        "shop_name": card.shop.name,
        "step_label": card.get_step_display(),
        "may_change": mine and not sealed,
        "bike": bike(card.bike) if card.bike is not None else None,
        "customer": {name: getattr(card.customer, name) for name in ("id", "name", "phone", "email")},
        "rider": _rider(card),
        "next_service_on": day(card.next_service_on),
        "opened_by_name": card.opened_by.name,
        "opened_at": moment(card.opened_at),
        "targets": _targets(card),
        "corrections": _ends(card, lambda end: correction_of(card, end)),
        "loads": {stage: _ends(card, lambda end, stage=stage: _loads(card, stage, end)) for stage in measured.STAGES},
        "readings": readings(card),
        **_sags(card),
        "settings": {stage: _ends(card, lambda end, stage=stage: _setting(card, stage, end)) for stage in sums.STAGES},
        "torques": [torque(line) for line in card.torques.all()],
        "parts": [part(line) for line in card.parts.all()],
        "cautions": _cautions(card),
        "sign_offs": [_sign_off(one) for one in card.sign_offs.all()],
        "blockers": blockers.blockers(card),
        "overrides": _overrides(card, person),
        "estimate": _estimate(card, person),
        "photos": [_photo(one) for one in card.photos.all()],
        "record": _record(card),
        "links": [_link(one) for one in card.links.all()],
        "former_owner": person is not None and former_owner.is_former(card),
    }


def moment(at: datetime | None) -> str | None:
    """Return a moment as RFC 3339 text in UTC, to the second."""
    return None if at is None else at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def day(on: date | None) -> str | None:
    """Return a day as ISO 8601 text."""
    return None if on is None else on.isoformat()


def bike(row: Bike) -> dict[str, Any]:
    """Return a bike as the API answers it."""
    names = (
        "id",
        "version",
        "make",
        "model",
        "year",
        "kind",
        "plate",
        "frame_number",
        "front",
        "rear",
        "chassis",
        "sources",
        "notes",
    )
    return {
        **{name: getattr(row, name) for name in names},
        "owner": row.owner_id,
        "owner_name": row.owner.name if row.owner is not None else None,
        "merged_into": row.merged_into_id,
        "title": bike_title(row),
    }


def bike_title(row: Bike | None) -> str:
    """Return "Make Model year" of a bike, or nothing for a loose part."""
    return "" if row is None else " ".join(str(word) for word in (row.make, row.model, row.year) if word)


def readings(card: JobCard) -> list[dict[str, Any]]:
    """Return every reading of a card, struck ones too, and which of them count."""
    counting = {
        reading.pk
        for stage in measured.STAGES
        for end in measured.ENDS
        for reading in measured.counting(card, stage, end).values()
    }
    return [
        {
            "id": one.pk,
            "stage": one.stage,
            "end": one.end,
            "quantity": one.quantity,
            "label": one.get_quantity_display(),
            "value": one.value,
            "unit": "kg" if one.quantity.endswith("_kg") else "mm",
            "instrument": say(one.instrument),
            "origin": one.origin,
            "taken_by_name": one.taken_by.name,
            "taken_at": moment(one.taken_at),
            "struck": one.struck_at is not None,
            "counts": one.pk in counting,
        }
        for one in card.readings.all()
    ]


def torque(line: TorqueLine) -> dict[str, Any]:
    """Return a torque line as the API answers it."""
    names = ("id", "version", "fastener", "count", "value_nm", "source_edition", "source_page", "needs_second_check")
    return {
        **{name: getattr(line, name) for name in names},
        "fastener": say(line.fastener),
        "wrench": line.wrench_id,
        "wrench_name": str(line.wrench) if line.wrench is not None else None,
        **_wrench_calibration(line),
        "tightened_by_name": line.tightened_by.name if line.tightened_by is not None else None,
        "tightened_at": moment(line.tightened_at),
        "checked_by_name": line.checked_by.name if line.checked_by is not None else None,
        "checked_at": moment(line.checked_at),
    }


def _wrench_calibration(line: TorqueLine) -> dict[str, Any]:
    """Return the calibration that counts for a line; see `blockers.calibration_of`."""
    if line.wrench is None:
        return {"calibrated_on": None, "calibration_due": None, "wrench_cycles": None}
    found = blockers.calibration_of(line, line.wrench)
    return {
        "calibrated_on": day(found.calibrated_on),
        "calibration_due": day(found.due_on),
        "wrench_cycles": found.cycles,
    }


def part(line: PartLine) -> dict[str, Any]:
    """Return a part's line as the API answers it."""
    names = ("id", "version", "direction", "description", "quantity", "batch")
    return {
        **{name: getattr(line, name) for name in names},
        "direction_label": line.get_direction_display(),
        "spring": line.spring_id,
    }


def _ends(card: JobCard, of: Any) -> dict[str, Any]:
    return {end: of(end) for end in measured.ENDS}


def _rider(card: JobCard) -> dict[str, Any] | None:
    if card.rider is None:
        return None
    return {name: getattr(card.rider, name) for name in ("id", "version", "name", "mass_in_kit_kg")}


def _targets(card: JobCard) -> dict[str, Any]:
    found = {end: measured.targets_of(card, end) for end in measured.ENDS}
    shown: dict[str, Any] = {end: one.as_dict() if one is not None else None for end, one in found.items()}
    return {**shown, "source": measured.targets_source(card)}


def _loads(card: JobCard, stage: str, end: str) -> dict[str, Any] | None:
    found = measured.loads_of(card, stage, end)
    return None if found is None else found.as_dict()


def _setting(card: JobCard, stage: str, end: str) -> dict[str, Any] | None:
    found = sums.setting_of(card, stage, end)
    return None if found is None else {"version": found.version, "body": found.body}


def _sag(card: JobCard, stage: str, end: str) -> tuple[dict[str, Any] | None, list[Problem]]:
    """Return the sags read, with the friction as a force where the setting can be computed."""
    found = measured.sag_or_problems(card, stage, end)
    rate = None if found[0] is None else sums.rate_read_along(card, stage, end)
    if rate is None or not SAG_BANDS["rate_n_per_mm"].holds(rate):
        return found
    return measured.sag_or_problems(card, stage, end, rate)


def _sags(card: JobCard) -> dict[str, Any]:
    sag: dict[str, dict[str, Any]] = {}
    wrong: dict[str, dict[str, Any]] = {}
    for stage in measured.STAGES:
        found = {end: _sag(card, stage, end) for end in measured.ENDS}
        sag[stage] = {end: one[0] for end, one in found.items()}
        wrong[stage] = {end: [problem.as_dict() for problem in one[1]] for end, one in found.items()}
    return {"sag": sag, "sag_problems": wrong}


def _cautions(card: JobCard) -> list[dict[str, Any]]:
    read = {one.key: one for one in card.cautions_read.all()}

    def shown(caution: cautions.Caution) -> Mapping[str, Any]:
        by = read.get(caution.key)
        return {
            "key": caution.key,
            "step": caution.step,
            "word": caution.word,
            "text": say(caution.text),
            "read_by_name": by.read_by.name if by is not None else None,
            "read_at": moment(by.read_at) if by is not None else None,
        }

    return [dict(shown(caution)) for caution in cautions.applying(card)]


def _sign_off(one: SignOff) -> dict[str, Any]:
    return {
        "part": one.part,
        "part_label": one.get_part_display(),
        "statement": say(one.statement),
        "by_name": one.by.name,
        "at": moment(one.at),
    }


def _overrides(card: JobCard, person: Person | None) -> list[dict[str, Any]]:
    """Return what was overridden; `stands` tells whether it would still stand in the way without that.

    A person reads what still stands in the own language; the record keeps what was overridden in the shop's.
    """
    made: list[Override] = list(card.overrides.all())
    still = {(one["code"], one["about"]): one["text"] for one in blockers.standing(card)} if made else {}
    return [
        {
            "id": one.pk,
            "code": one.code,
            "text": one.text if person is None else still.get((one.code, one.about), one.text),
            "reason": one.reason,
            "by_name": one.by.name,
            "at": moment(one.at),
            "stands": (one.code, one.about) in still,
        }
        for one in made
    ]


def _estimate(card: JobCard, person: Person | None) -> dict[str, Any]:
    """Return the estimate and what the customer said to it; the address of an answer is for managers."""
    estimate = estimates.estimate_of(card)
    lines = estimate.lines if estimate else []
    manages = person is not None and person.role != Person.Role.TECHNICIAN
    return {
        "version": estimate.version if estimate else None,
        "needs_approval": estimate.needs_approval if estimate else False,
        "lines": lines,
        "total_minor": estimates.total_minor(lines),
        "currency": estimates.currency_of(card),
        "minor_digits": money.digits(estimates.currency_of(card)),
        "state": estimates.state(card),
        "asks": [_ask(ask, manages) for ask in card.asks.all()],
    }


def _ask(ask: EstimateAsk, manages: bool) -> dict[str, Any]:
    return {
        "id": ask.pk,
        "made_by_name": ask.made_by.name,
        "made_at": moment(ask.made_at),
        "expires_at": moment(ask.expires_at),
        "revoked_at": moment(ask.revoked_at),
        "total_minor": estimates.total_minor(ask.lines),
        "currency": ask.currency,
        "openings": len(ask.openings.all()),
        "answer": ask.answer,
        "answered_at": moment(ask.answered_at),
        "answered_from": ask.answered_from if manages else None,
    }


def _photo(one: Photo) -> dict[str, Any]:
    return {
        "id": one.pk,
        "about": one.about,
        "about_label": one.get_about_display(),
        "reading": one.reading_id,
        "caption": one.caption,
        "width_px": one.width_px,
        "height_px": one.height_px,
        "sha256": one.sha256,
        "taken_by_name": one.taken_by.name,
        "taken_at": moment(one.taken_at),
        "struck": one.struck_at is not None,
        "erased": one.erased_at is not None,
    }


def _record(card: JobCard) -> dict[str, Any] | None:
    records = list(card.records.all())
    sealed = next((one for one in records if one.what == SealedRecord.What.CARD), None)
    if sealed is None:
        return None
    return {
        "number": sealed.number,
        "head": sealed.head,
        "sealed_at": moment(sealed.sealed_at),
        "sealed_by_name": sealed.sealed_by.name,
        "amendments": len(records) - 1,
    }


def _link(one: CustomerLink) -> dict[str, Any]:
    return {
        "id": one.pk,
        "expires_at": moment(one.expires_at),
        "revoked_at": moment(one.revoked_at),
        "share_mass": one.share_mass,
        "openings": len(one.openings.all()),
        "made_by_name": one.made_by.name,
        "made_at": moment(one.made_at),
    }
