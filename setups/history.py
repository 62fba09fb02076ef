"""What was done to a bike before: for each card what it found, changed, fitted and left, a sentence a thing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from calc.words import capital, mark, number, say
from setups import measured, sums
from setups.models import JobCard, PartLine, SealedRecord
from setups.springs import rate_words

_END_NAMES = {"front": mark("Fork"), "rear": mark("Shock")}
_LEG_WORDS = (
    ("preload_mm", mark("preload"), "mm"),
    ("spacer_mm", mark("spacer"), "mm"),
    ("air_gap_mm", mark("air gap"), "mm"),
    ("pressure_kpa", mark("pressure"), "kPa"),
)
_REAR_WORDS = (
    ("preload_mm", mark("preload"), "mm"),
    ("gas_force_n", mark("gas force"), "N"),
    ("ride_height_mm", mark("ride height"), "mm"),
)
_FRONT_WORDS = (("oil_cm3_per_leg", mark("oil in each leg"), "cm³"), ("fork_height_mm", mark("fork height"), "mm"))
_CLICKERS = (
    mark("clicks"), mark("turns"), mark("left"), mark("right"), mark("both"), mark("fully in"), mark("fully out"),
)
"""What a clicker's entry holds as codes, said in a sentence as words."""
_ADJUSTERS = {
    "rebound": mark("rebound"),
    "compression": mark("compression"),
    "high_speed_compression": mark("high-speed compression"),
}


def changes(card: JobCard) -> list[str]:
    """Return what the card changed between as received and as built (where nothing is built yet: as
    chosen).
    """
    found: list[str] = []
    for end in ("front", "rear"):
        before = sums.body_of(card, "received", end)
        after = sums.body_of(card, "built", end)
        planned = after is None
        after = after if after is not None else sums.body_of(card, "chosen", end)
        if before is not None and after is not None:
            found += (
                say("Planned: {line}", line=line) if planned else line
                for line in _differences(end, before, after)
            )
    return found


def past(card: JobCard, *, hidden: bool, former: bool) -> dict[str, Any]:
    """Return a card as a bike's history tells it, with what hangs on it fetched before.

    `hidden`: whoever asks may not know whose card it was (see `setups.former_owner`), so the complaint is left
    out; `former`: it was opened for an owner that the bike had before.
    """
    records = list(card.records.all())
    sealed = next((one for one in records if one.what == SealedRecord.What.CARD), None)
    return {
        "id": card.pk,
        "number": card.number,
        "shop_name": card.shop.name,
        "opened_at": card.opened_at,
        "step": card.step,
        "step_label": card.get_step_display(),
        "former_owner": former,
        "complaint": "" if hidden else card.complaint,
        "distance_km": card.distance_km,
        "hours": card.hours,
        "sags": sags(card),
        "changes": changes(card),
        "parts": [part_words(line) for line in card.parts.all()],
        "record": None if sealed is None else sealed.number,
        "sealed_at": None if sealed is None else sealed.sealed_at,
        "amendments": 0 if sealed is None else len(records) - 1,
    }


def sags(card: JobCard) -> list[dict[str, Any]]:
    """Return the sags read at each end before and after, in mm; an end without any is left out."""
    found = []
    for end in measured.ENDS:
        row: dict[str, Any] = {"end": end}
        for stage, when in (("received", "before"), ("built", "after")):
            read = measured.sag_or_problems(card, stage, end)[0] or {}
            for kind in ("static", "rider"):
                row[f"{kind}_{when}_mm"] = read.get(f"{kind}_sag_mm")
        if any(value is not None for key, value in row.items() if key != "end"):
            found.append(row)
    return found


def part_words(line: PartLine) -> str:
    """Return a part's line in words."""
    batch = say(", batch {batch}", batch=line.batch) if line.batch else ""
    return f"{capital(line.get_direction_display())}: {line.quantity} × {line.description}{batch}"


def _differences(end: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    name = say(_END_NAMES[end])
    if end == "rear":
        yield from _spring(name, before, after)
        yield from _numbers(name, before, after, _REAR_WORDS)
    else:
        legs = list(zip(before.get("legs") or [], after.get("legs") or [], strict=False))
        lines = [[*_spring("", old, new), *_numbers("", old, new, _LEG_WORDS)] for old, new in legs]
        if len(lines) == 2 and lines[0] == lines[1]:
            yield from (f"{name}: {line}" for line in lines[0])
        else:
            for side, one in zip((say("left leg"), say("right leg")), lines, strict=False):
                yield from (f"{name}, {side}: {line}" for line in one)
        yield from _oil(name, before, after)
        yield from _numbers(name, before, after, _FRONT_WORDS)
    yield from _numbers(name, before, after, (("tyre_pressure_kpa", mark("tyre pressure"), "kPa"),))
    yield from _clickers(name, before, after)


def _of(name: str, said: str) -> str:
    return f"{name}: {said}" if name else said


def _spring(name: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    old, new = rate_words(before.get("spring")), rate_words(after.get("spring"))
    if old != new:
        yield _of(name, say("spring {old} to {new}", old=old, new=new))


def _numbers(
    name: str, before: Mapping[str, Any], after: Mapping[str, Any], words: tuple[tuple[str, str, str], ...]
) -> Iterator[str]:
    for key, word, unit in words:
        old, new = before.get(key), after.get(key)
        if old != new and new is not None:
            was = say("not noted") if old is None else number(old, "g")
            yield _of(name, say("{word} {was} to {new:g} {unit}", word=say(word), was=was, new=new, unit=unit))


def _oil(name: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    old, new = before.get("oil_grade") or "", after.get("oil_grade") or ""
    if new and old != new:
        yield _of(name, say("oil {old} to {new}", old=old or say("not noted"), new=new))


def _clickers(name: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    held = {_clicker_key(one): one for one in before.get("clickers") or []}
    for one in after.get("clickers") or []:
        old = held.get(_clicker_key(one))
        if old is not None and old.get("position") == one.get("position"):
            continue
        if one.get("position") is None:
            continue
        leg = ", " + say(one["leg"]) if one.get("leg") else ""
        told = {
            "adjuster": say(_ADJUSTERS[one["adjuster"]]),
            "new": one["position"],
            "unit": say(one["unit"]),
            "counted_from": say(str(one["counted_from"]).replace("_", " ")),
        }
        if old is None or old.get("position") is None:
            yield _of(name + leg, say("{adjuster} {new:g} {unit} from {counted_from}", **told))
        else:
            text = say("{adjuster} {was:g} to {new:g} {unit} from {counted_from}", was=old["position"], **told)
            yield _of(name + leg, text)


def _clicker_key(one: Mapping[str, Any]) -> tuple[Any, ...]:
    return one.get("adjuster"), one.get("leg") or "", one.get("unit"), one.get("counted_from")
