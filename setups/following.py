"""What an end does while a hand drags its preload, gap or rate: picture, sags and verdict from what is sent alone.

A drag shows many values a second, so several are answered at once, those that the hand may reach next among them, and
nothing is read from the database: whoever begins one is given what the answers rest on (`basis`), and sends it back
with the values. What does not change meanwhile is worked out once and kept by its content; a worker that has not seen
it works it out again. One picture is answered whole; of the others only what is different in them.
"""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from calc.evaluate import evaluate
from calc.picture import Layout
from calc.redrawn import Changes, changes
from calc.refusal import Problem, Refusal
from calc.words import say
from setups import sums
from setups.figures import reader
from setups.measured import Band, Targets
from setups.models import JobCard
from setups.verdict import Verdict
from shops.refusals import wrong

STAGE = "chosen"
"""The one stage that is a plan: how a bike came and how it was built are read off it, not dragged."""
_PATH = re.compile(r"(legs\.[01]\.)?(preload_mm|air_gap_mm|spring\.(rate|soft|hard|start|end)_n_per_mm)")


@dataclass(frozen=True)
class _Ready:
    """What stays the same during a drag."""

    ground: sums.Ground
    request: Mapping[str, Any]
    against: tuple[tuple[str, sums.Side], ...]
    held: Layout
    picture: str


@dataclass(frozen=True)
class Tried:
    """One end with dragged values: its side, and what is different in its picture (None: the side holds it whole)."""

    side: sums.Side
    changes: Changes | None


def basis(card: JobCard, end: str, request: Mapping[str, Any], against: str | None) -> dict[str, Any]:
    """Return what `follow` needs to answer for `end` of `card`, `request` being what calc is asked of it."""
    ground = sums.ground_of(card, STAGE, end)
    body = sums.body_of(card, against, end) if against not in (None, STAGE) else None
    was = sums.worked(card, str(against), end, body) if body is not None else None
    return {
        end: request,
        "targets": ground.targets.as_dict() if ground.targets else None,
        "adjuster_mm": ground.adjuster_mm,
        "correction": ground.correction,
        "chambers": ground.chambers,
        "share_assumed": ground.share_assumed,
        "beside": [{"stage": against, end: was.request}] if was is not None and was.result else [],
    }


def follow(
    given: Mapping[str, Any], tries: Sequence[Mapping[str, float]], writing: Mapping[str, Any]
) -> tuple[str, list[Tried]]:
    """Return the picture of a `given` basis, checked, and what is said with the values of each of `tries` in place.

    Values come by path ("legs.0.preload_mm"). All pictures have scale and labels of the first. Raises Refusal where the
    basis itself cannot be computed with, or a path leads nowhere.
    """
    ready = _ready(json.dumps(given, sort_keys=True), json.dumps(writing), reader())
    return ready.picture, [_tried(ready, values, writing) for values in tries]


def _tried(ready: _Ready, values: Mapping[str, float], writing: Mapping[str, Any]) -> Tried:
    end, request = ready.ground.end, copy.deepcopy(dict(ready.request))
    for path, value in values.items():
        _put(request, path, value)
    try:
        plain = evaluate({end: request})[end]
    except Refusal as refusal:
        unknown = Verdict("unknown", say("Not recalculated: this cannot be right."), "measure")
        problems = tuple(_placed(problem, end) for problem in refusal.problems)
        return Tried(sums.Side(None, unknown, problems=problems), None)
    side = sums.beside(sums.told(ready.ground, request, plain), ready.ground, ready.against, writing, ready.held)
    different = changes(ready.picture, str(side.picture))
    return Tried(side if different is None else replace(side, picture=None), different)


@lru_cache(maxsize=32)
def _ready(given_json: str, writing_json: str, _reader: str) -> _Ready:
    # The labels' places depend on their words.
    given, writing = json.loads(given_json), json.loads(writing_json)
    end = "front" if given.get("front") else "rear"
    ground = _ground(given, end)
    against = tuple(
        (one["stage"], _computed(replace(ground, stage=one["stage"]), one[end])) for one in given["beside"]
    )
    first = _computed(ground, given[end])
    held = sums.held_layout(ground, first, against, writing)
    drawn = sums.beside(first, ground, against, writing, held).picture
    return _Ready(ground, given[end], against, held, str(drawn))


def _ground(given: Mapping[str, Any], end: str) -> sums.Ground:
    bands = given["targets"]
    targets = Targets(Band(*bands["static_sag_mm"]), Band(*bands["rider_sag_mm"])) if bands else None
    return sums.Ground(
        end, STAGE, targets, given["adjuster_mm"], given["correction"], given["chambers"], given["share_assumed"]
    )


def _computed(ground: sums.Ground, request: Mapping[str, Any]) -> sums.Side:
    return sums.told(ground, request, evaluate({ground.end: request})[ground.end])


def _placed(problem: Problem, end: str) -> Problem:
    """Return the problem with its field as a setting names it."""
    return replace(problem, field=problem.field.removeprefix(f"{end}."))


def _put(request: dict[str, Any], path: str, value: float) -> None:
    """Put `value` where `path` leads: a drag changes a number that is there already."""
    *way, last = path.split(".")
    holder: Any = request
    try:
        for step in way:
            holder = holder[int(step) if step.isdigit() else step]
        known = _PATH.fullmatch(path) is not None and last in holder
    except (KeyError, IndexError, TypeError):
        known = False
    if not known:
        raise wrong(f"values.{path[:60]}", "unknown_field", say(
            "{path!r} is nothing that can be dragged here.",
            path=path[:60],
        ))
    holder[last] = value
