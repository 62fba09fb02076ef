"""What was done to a bike before: one sentence for each thing that a card changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from setups import sums
from setups.models import JobCard

_END_NAMES = {"front": "Fork", "rear": "Shock"}
_LEG_WORDS = (
    ("preload_mm", "preload", "mm"),
    ("air_gap_mm", "air gap", "mm"),
    ("pressure_kpa", "pressure", "kPa"),
)
_REAR_WORDS = (("preload_mm", "preload", "mm"), ("ride_height_mm", "ride height", "mm"))
_FRONT_WORDS = (("fork_height_mm", "fork height", "mm"),)
_ADJUSTERS = {
    "rebound": "rebound",
    "compression": "compression",
    "high_speed_compression": "high-speed compression",
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
            found += (f"{'Planned: ' if planned else ''}{line}" for line in _differences(end, before, after))
    return found


def _differences(end: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    name = _END_NAMES[end]
    if end == "rear":
        yield from _spring(name, before, after)
        yield from _numbers(name, before, after, _REAR_WORDS)
    else:
        legs = list(zip(before.get("legs") or [], after.get("legs") or [], strict=False))
        lines = [[*_spring("", old, new), *_numbers("", old, new, _LEG_WORDS)] for old, new in legs]
        if len(lines) == 2 and lines[0] == lines[1]:
            yield from (f"{name}: {line}" for line in lines[0])
        else:
            for side, one in zip(("left leg", "right leg"), lines, strict=False):
                yield from (f"{name}, {side}: {line}" for line in one)
        yield from _numbers(name, before, after, _FRONT_WORDS)
    yield from _numbers(name, before, after, (("tyre_pressure_kpa", "tyre pressure", "kPa"),))
    yield from _clickers(name, before, after)


def _spring(name: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    old, new = sums.rate_words(before.get("spring")), sums.rate_words(after.get("spring"))
    if old != new:
        yield f"{name}{': ' if name else ''}spring {old} to {new}"


def _numbers(
    name: str, before: Mapping[str, Any], after: Mapping[str, Any], words: tuple[tuple[str, str, str], ...]
) -> Iterator[str]:
    for key, word, unit in words:
        old, new = before.get(key), after.get(key)
        if old != new and new is not None:
            was = "not noted" if old is None else f"{old:g}"
            yield f"{name}{': ' if name else ''}{word} {was} to {new:g} {unit}"


def _clickers(name: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    held = {_clicker_key(one): one for one in before.get("clickers") or []}
    for one in after.get("clickers") or []:
        old = held.get(_clicker_key(one))
        if old is not None and old.get("position") == one.get("position"):
            continue
        if one.get("position") is None:
            continue
        was = "" if old is None or old.get("position") is None else f"{old['position']:g} to "
        leg = f", {one['leg']}" if one.get("leg") else ""
        counted = f"{one['unit']} from {str(one['counted_from']).replace('_', ' ')}"
        yield f"{name}{leg}: {_ADJUSTERS[one['adjuster']]} {was}{one['position']:g} {counted}"


def _clicker_key(one: Mapping[str, Any]) -> tuple[Any, ...]:
    return one.get("adjuster"), one.get("leg") or "", one.get("unit"), one.get("counted_from")
