"""How sure the sags and the needed spring are, what makes them unsure, and the reading worth taking next.

Errors are propagated by Monte Carlo (JCGM 101:2008) with a fixed seed, all samples in one set of arrays; each
input's share of the spread is first-order (JCGM 100:2008, 5.1.2 and 5.1.3, note 2): the square of half the
difference that its standard uncertainty makes either way, over the sum of these.

Numbered: [1] JCGM 101:2008. [2] JCGM 100:2008, 5.1.2 and 5.1.3. What a figure's origin is worth: `calc.origins`,
common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.asking import (
    check_end,
    check_list,
    check_targets,
    end_asked,
    label_of,
    springs_listed,
    travel_of,
    wanted_from,
)
from calc.checks import Findings
from calc.choose import Wanted, preload_for
from calc.evaluate import end_from, rounded, sprung_load
from calc.fork import Fork
from calc.origins import FIELDS, MOST_U, ORIGINS, Input, draws, inputs_of
from calc.rear import Rear
from calc.refusal import Note
from calc.springs import Springs
from calc.varied import Varied, varied
from calc.words import say

Array = NDArray[np.float64]

SAMPLES, FEWEST_SAMPLES = 2000, 200
MOST_SPRINGS = 400
MOST_SOLVED = {True: 400_000, False: 30_000}
"""Springs times samples that are solved at once in a list's judgement, by whether the wheel force surely rises."""
SEED = 20101
COVERED = (2.5, 97.5)
NORMAL_COVER = 1.96
"""The standard uncertainties either side that hold 95 % of a normal distribution (JCGM 100:2008, table G.1)."""
CHUNK_ELEMENTS = 65_536
CLOSE_CHANCE = 0.05
WORTH_SAYING = 0.02
TOUCH_M = 1e-7
RESULTS = ("static_sag_mm", "rider_sag_mm", "wheel_rate_n_per_mm", "rate_n_per_mm", "preload_mm")


@dataclass(frozen=True)
class Contest:
    """Which springs of a list land both sags in band, sample by sample; `inside` is (springs, samples).

    `labels` name the springs, `springs` is their batch, `preload` (m) of shape (springs,); `errors` are those of the
    samples; a long list gets fewer of them, 200 at least. Source: [1].

    >>> from calc.springs import batch, straight
    >>> inside = np.array([[True, False], [True, True]])
    >>> Contest(["soft", "firm"], batch([straight(4e4), straight(5e4)]), np.zeros(2), inside, {}).top
    [1, 0]
    """

    labels: list[str]
    springs: Springs
    preload: Array
    inside: NDArray[np.bool_]
    errors: Mapping[str, Array]

    @property
    def chance(self) -> Array:
        """Each spring's share of samples."""
        return np.asarray(self.inside.mean(axis=1))

    @property
    def top(self) -> list[int]:
        """The two best springs, or the only one."""
        return [int(index) for index in np.argsort(-self.chance, kind="stable")[:2]]


def uncertainty(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return intervals, shares and the reading worth taking next for one end, given as in `evaluate`.

    `sources` maps a field of `calc.origins.FIELDS` to {"from": origin, "u": its own standard uncertainty, in
    the quantity's unit, or None}; what is left out is assumed. `target_static_sag_mm` and
    `target_rider_sag_mm` (bands [low, high], mm, optional, together) ask for the needed rate and preload at
    the bands' middles; with `springs`, a list as in `choose` of at most 400, also for each spring's probability at the
    preload within `adjuster_mm` that aims at the rider band's middle. Each result is {"value", "u", "low",
    "high"}, mm or N/mm: the value with no errors, the standard uncertainty and the interval that holds 95 %
    of the samples in the middle (JCGM 101, 7.7). Stroke and wheel travel are taken as exact, the air curve is
    kept for every spring, and sags are held inside the travel. Raises `Refusal`.

    The reading worth taking next is the one that, leaving no more than a measured value's uncertainty, most
    raises the best spring's probability or parts the two best most, had it confirmed the value; without a
    list, the one that takes most of the rider sag's variance away.

    `request` is that mapping. Source: [1], [2].

    Of the two loads only the rider's own matters to the rider sag, and it is the one still assumed:

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 7,
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 52}}
    >>> sure = dict.fromkeys(("leverage", "spring", "preload_mm", "unsprung_kg"), {"from": "measured"})
    >>> found = uncertainty({"rear": rear, "sources": sure})
    >>> found["rider_sag_mm"]["value"], round((90 * 9.80665 * 2.5 / 52 - 7) * 2.5, 4)
    (88.5816, 88.5816)
    >>> found["next_reading"]["field"]
    'load_rider_kg'
    """
    name = _check(request)
    given = request[name]
    inputs = inputs_of(given, name, request.get("sources") or {})
    errors = draws(inputs, SAMPLES, SEED)
    wanted = None if request.get("target_static_sag_mm") is None else wanted_from(request)
    found = _results(varied(given, name, _with_steps(inputs, errors)), wanted)
    variance = {key: _variances(values, len(inputs)) for key, values in found.items()}
    contest = None
    if wanted is not None and request.get("springs"):
        contest = _contest(request, name, wanted, errors)
    answer: dict[str, Any] = {key: _interval(found.get(key), len(inputs)) for key in RESULTS}
    shares = _shares(inputs, variance)
    reading = (
        _by_variance(inputs, variance["rider_sag_mm"], name)
        if contest is None
        else _by_contest(contest, request, name, inputs)
    )
    answer["inputs"] = shares
    answer["springs"] = None if contest is None else _rows(request["springs"], contest)
    answer["next_reading"] = reading
    answer["undecided"] = None if contest is None else _undecided(contest)
    answer["notes"] = [note.as_dict() for note in _notes(found, len(inputs), contest)]
    return answer


def _check(request: Mapping[str, Any]) -> str:
    findings = Findings()
    name = end_asked(findings, request)
    check_end(findings, request[name], name)
    check_targets(findings, request, travel_of(request[name], name))
    bands = [key for key in ("target_static_sag_mm", "target_rider_sag_mm") if request.get(key) is not None]
    if len(bands) == 1:
        findings.add(bands[0], "one_target", say("Give both sag bands, static and rider, or neither."))
    if request.get("springs") is not None:
        check_list(findings, request["springs"], name, MOST_SPRINGS)
        if not bands:
            findings.add("springs", "no_target", say(
                "To judge springs, give the sag bands that they should land in.",
            ))
    check_sources(findings, request.get("sources") or {}, name)
    findings.raise_any()
    return name


def check_sources(findings: Findings, sources: Mapping[str, Any], name: str) -> None:
    """Note every problem of where the figures of an end (front or rear) are said to come from.

    `findings` collects the problems, `sources` is the mapping of fields, `name` front or rear. Raises nothing.
    Source: none (bookkeeping).

    >>> found = Findings()
    >>> check_sources(found, {"spring": {"from": "guessed"}}, "rear")
    >>> found.problems[0].field
    'sources.spring.from'
    """
    for field, source in sources.items():
        where = f"sources.{field}"
        if field not in FIELDS[name]:
            text = say(
                "“{field}” of a {name} end has no uncertainty here; known are {names}.",
                field=field, name=say(name), names=", ".join(FIELDS[name]),
            )
            findings.add(where, "unknown_field", text)
        elif source is None:
            continue
        elif not isinstance(source, Mapping) or source.get("from") not in ORIGINS:
            findings.add(f"{where}.from", "unknown_choice", say(
                "Say where it comes from: {names}.",
                names=", ".join(ORIGINS),
            ))
        elif source.get("u") is not None:
            findings.value(source["u"], f"{where}.u", MOST_U)


def _with_steps(inputs: Sequence[Input], errors: Mapping[str, Array]) -> dict[str, Array]:
    """Return the errors to solve: none, each input alone up and down by its standard uncertainty, the draws."""
    count = len(inputs)
    columns = {}
    for index, each in enumerate(inputs):
        steps = np.zeros(1 + 2 * count)
        steps[1 + index], steps[1 + count + index] = each.u, -each.u
        columns[each.field] = np.concatenate([steps, errors[each.field]])
    return columns


def _results(off: Varied, wanted: Wanted | None) -> dict[str, Array]:
    """Return each result for all errors at once, in mm and N/mm."""
    static, rider = off.sags()
    rate = np.broadcast_to(off.wheel_rate() / 1000, static.shape)
    found = {"static_sag_mm": static * 1000, "rider_sag_mm": rider * 1000, "wheel_rate_n_per_mm": rate}
    if wanted is None:
        return found
    middle, aim = sum(wanted.static) / 2, wanted.aim
    if not 0 <= middle < aim < off.end.travel:
        return found
    rate, preload = off.needed(middle, aim)
    if np.all(rate > 0):
        found |= {
            "rate_n_per_mm": np.broadcast_to(rate / 1000, static.shape),
            "preload_mm": np.broadcast_to(preload * 1000, static.shape),
        }
    return found


def _variances(values: Array, count: int) -> Array:
    """Return each input's first-order contribution to a result's variance."""
    return ((values[1 : 1 + count] - values[1 + count : 1 + 2 * count]) / 2) ** 2


def _interval(values: Array | None, count: int) -> dict[str, float] | None:
    if values is None:
        return None
    sample = values[1 + 2 * count :]
    low, high = np.percentile(sample, COVERED)
    return {
        "value": rounded(values[0]),
        "u": rounded(sample.std(ddof=1)),
        "low": rounded(low),
        "high": rounded(high),
    }


def _shares(inputs: Sequence[Input], variance: Mapping[str, Array]) -> list[dict[str, Any]]:
    """Return every input with its share of each result's variance, the largest of the rider sag first."""
    whole = {key: float(parts.sum()) for key, parts in variance.items()}
    rows = []
    for index, each in enumerate(inputs):
        share = {
            key: rounded(variance[key][index] / whole[key]) if whole.get(key, 0.0) > 0 else None for key in RESULTS
        }
        rows.append(
            {
                "field": each.field,
                "what": say(each.quantity.what),
                "from": each.origin,
                "u": rounded(each.u),
                "unit": each.quantity.unit,
                "share": share,
            }
        )
    return sorted(rows, key=lambda row: -(row["share"]["rider_sag_mm"] or 0.0))


def _contest(request: Mapping[str, Any], name: str, wanted: Wanted, errors: Mapping[str, Array]) -> Contest:
    given = request[name]
    springs = springs_listed(request)
    end = end_from(given, name)
    preload = preload_for(end.with_springs(springs, 0.0), springs, wanted, sprung_load(given, "rider"))
    samples = min(SAMPLES, max(FEWEST_SAMPLES, MOST_SOLVED[end.rises()] // len(preload)))
    errors = {field: drawn[:samples] for field, drawn in errors.items()}
    off = varied(given, name, errors)
    binds = end.with_springs(springs, preload).clearance() < -TOUCH_M
    inside = _inside(off, springs, preload, wanted) & ~np.broadcast_to(binds, preload.shape)[:, None]
    return Contest([label_of(each) for each in request["springs"]], springs, preload, inside, errors)


def _inside(off: Varied, springs: Springs, preload: Array, wanted: Wanted) -> NDArray[np.bool_]:
    """Return, per spring and sample, whether both sags land in band; so many springs at a time as memory likes."""
    samples = len(next(iter(off.errors.values())))
    inside = np.empty((len(preload), samples), dtype=bool)
    step = max(1, CHUNK_ELEMENTS // samples)
    for first in range(0, len(preload), step):
        part = slice(first, first + step)
        end: Fork | Rear = off.fitted(springs.columns(part), preload[part, None])
        static, rider = off.sags(end)
        inside[part] = _within(static, wanted.static) & _within(rider, wanted.rider)
    return inside


def _within(sag: Array, band: tuple[float, float]) -> NDArray[np.bool_]:
    return (sag >= band[0] - TOUCH_M) & (sag <= band[1] + TOUCH_M)


def _rows(listed: Sequence[Mapping[str, Any]], contest: Contest) -> list[dict[str, Any]]:
    """Return the list with each spring's preload and probability, the most probable first."""
    order = np.argsort(-contest.chance, kind="stable")
    return [
        {
            "id": listed[index].get("id"),
            "label": listed[index].get("label", ""),
            "preload_mm": rounded(contest.preload[index] * 1000),
            "probability": rounded(contest.chance[index]),
        }
        for index in order.tolist()
    ]


def _by_variance(inputs: Sequence[Input], variance: Array, name: str) -> dict[str, Any] | None:
    """Return the reading that takes most of the rider sag's variance away."""
    whole = float(variance.sum())
    if whole <= 0:
        return None
    gain = [
        float(part) * (1 - each.left**2) / whole if each.reading(name) else 0.0
        for each, part in zip(inputs, variance, strict=True)
    ]
    index = int(np.argmax(gain))
    if gain[index] < WORTH_SAYING:
        return None
    text = say(
        "{reading}: it would take {percent} of the rider sag's variance away.",
        reading=inputs[index].reading(name), percent=percent(gain[index]),
    )
    return {"field": inputs[index].field, "worth": rounded(gain[index]), "text": text}


def _by_contest(
    contest: Contest, request: Mapping[str, Any], name: str, inputs: Sequence[Input]
) -> dict[str, Any] | None:
    """Return the reading that most raises the best spring's probability, or parts the two best most."""
    readable = [each for each in inputs if each.reading(name) and each.left < 1]
    if not readable or float(contest.chance.max()) == 0:
        return None
    before, chance = contest.chance[contest.top], _after_each(contest, request, name, readable)
    rise = chance.max(axis=0) - before[0]
    lead = np.ptp(chance, axis=0) - (before[0] - before[-1])
    worth = np.maximum(rise, lead)
    index = int(np.argmax(worth))
    if worth[index] < WORTH_SAYING:
        return None
    said = _what_it_does(contest, chance[:, index], float(rise[index]), float(lead[index]))
    each = readable[index]
    return {"field": each.field, "worth": rounded(worth[index]), "text": say(
        "{reading}: it would {said}.",
        reading=each.reading(name), said=said,
    )}


def _what_it_does(contest: Contest, chance: Array, rise: float, lead: float) -> str:
    """Return what a reading does that leaves the top springs with `chance`, to follow "it would"."""
    order = np.argsort(-chance, kind="stable").tolist()
    first, last = (contest.labels[contest.top[place]] for place in (order[0], order[-1]))
    turned = order[0] != 0
    if first != last and (turned or _close(contest)) and float(np.ptp(chance)) >= CLOSE_CHANCE:
        return say("settle {first} against {last}", first=first, last=last)
    if rise >= lead:
        had, has = (percent(float(each)) for each in (contest.chance[contest.top[order[0]]], chance[order[0]]))
        return say("raise the chance of {first} from {had} to {has}", first=first, had=had, has=has)
    return say(
        "widen the lead of {first} over {last} by {lead:.0f} points",
        first=first, last=last, lead=lead * 100,
    )


def _after_each(
    contest: Contest,
    request: Mapping[str, Any],
    name: str,
    readable: Sequence[Input],
) -> Array:
    """Return the top springs' probabilities after each reading, shape (springs, readings).

    Every reading's samples are the same draws, those of its own input shrunk to what it leaves.
    """
    top, count = contest.top, len(readable)
    shrunk = {}
    for field, drawn in contest.errors.items():
        factor = np.array([each.left if each.field == field else 1.0 for each in readable])
        shrunk[field] = (factor[:, None] * drawn).ravel()
    off = varied(request[name], name, shrunk)
    inside = _inside(off, _picked(contest.springs, top), contest.preload[top], wanted_from(request))
    possible = np.expand_dims(contest.inside[top].any(axis=1), 1)
    return np.asarray(inside.reshape(len(top), count, -1).mean(axis=2) * possible)


def _picked(springs: Springs, which: list[int]) -> Springs:
    return Springs(
        springs.knots[which], springs.force[which], springs.rate[which], springs.bend[which], springs.solid[which]
    )


def _close(contest: Contest) -> bool:
    """Say whether the best two springs lie closer than the data, or the sample itself, can separate."""
    if len(contest.top) < 2 or float(contest.chance.max()) < CLOSE_CHANCE:
        return False
    first, second = contest.top
    difference = contest.inside[first].astype(float) - contest.inside[second]
    noise = 2 * float(difference.std()) / math.sqrt(difference.size)
    return float(difference.mean()) < max(CLOSE_CHANCE, noise)


def _undecided(contest: Contest) -> str | None:
    if not _close(contest):
        return None
    first, second = contest.top
    chances = say(
        "{percent} and {percent2}",
        percent=percent(contest.chance[first]), percent2=percent(contest.chance[second]),
    )
    return say(
        "The readings cannot separate {labels} from {labels2}: both sags land in band with a probability of "
        "{chances}.",
        labels=contest.labels[first], labels2=contest.labels[second], chances=chances,
    )


def _notes(found: Mapping[str, Array], count: int, contest: Contest | None) -> list[Note]:
    notes = [
        Note(
            "usual_uncertainties",
            "info",
            say("Uncertainties without a value of their own are common practice for where a figure comes from."),
        )
    ]
    for key, word in (("static_sag_mm", "static"), ("rider_sag_mm", "rider")):
        if float(np.ptp(found[key][1 + 2 * count :])) == 0:
            text = say(
                "The {word} sag does not move for any of the errors: it is at an end of the travel.",
                word=say(word),
            )
            notes.append(Note("at_an_end", "warning", text, rounded(found[key][0]), "mm"))
    if contest is not None and contest.inside.shape[1] < SAMPLES:
        samples = contest.inside.shape[1]
        text = say(
            "For so long a list each spring is judged by {samples} samples: probabilities are coarser.",
            samples=samples,
        )
        notes.append(Note("fewer_samples", "info", text, samples))
    if contest is not None and float(contest.chance.max()) == 0:
        text = say("No spring of the list lands both sags in band for any of the errors.")
        notes.append(Note("none_suits", "warning", text))
    return notes


def covering(value: float, u: float) -> tuple[float, float]:
    """Return the interval that holds 95 % of a normal distribution about `value` with standard uncertainty `u`.

    JCGM 100:2008, 6.2 and table G.1: k = 1.96.

    `value` and `u` are numbers in one unit, as are both ends. Raises nothing. Source: [2].

    >>> covering(97.0, 1.5)
    (94.06, 99.94)
    """
    return rounded(value - NORMAL_COVER * u), rounded(value + NORMAL_COVER * u)


def percent(part: Any) -> str:
    """Return a part of one as a whole percentage: "79 %".

    Raises nothing. Source: none (wording).

    >>> percent(0.787)
    '79 %'
    """
    return f"{100 * float(part):.0f} %"
