"""The room for rate and preload: which straight springs, wound up how far, bring both sags into band.

Sources: [1] Elementary statics, `p = F/k − s` at the bands' edges. [2] Which sags are wanted is common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.asking import SAGS, check_end, check_targets, end_asked, travel_of, wanted_from
from calc.bands import BANDS
from calc.checks import Findings, check_range
from calc.choose import Wanted
from calc.drawing import SIZE, coordinate, curve, faint, nice_step, path_data, segment, words_at, wrap
from calc.evaluate import end_from, rounded, sprung_load
from calc.fork import Fork
from calc.needed import bare
from calc.placing import Box, Sheet, text_width
from calc.rear import Rear
from calc.refusal import Note
from calc.solve import settle
from calc.springs import Springs, batch, straight
from calc.suits import preload_at
from calc.words import say
from calc.writing import METRIC, Writing

Array = NDArray[np.float64]

POINTS = 25
FINE = 121
HEIGHT = 480
FAR = 14.0
"""How far a name may stand from its line without a leader, in units of the picture."""
X0, X1, Y0, Y1 = 80, 700, 46, 410
DOT = 8
_ROLES = {"static_sag_mm": ("static", "13 8"), "rider_sag_mm": ("rider", "")}
"""The two sags' lines are told apart by pattern: the static broken, the rider's whole."""


@dataclass(frozen=True)
class Mark:
    """A spring to be shown among them: its name (`label`), its straight rate (`rate_n_per_mm`), its preload
    (`preload_mm`); `solid` fills the dot.

    Source: none (drawing).

    >>> Mark("52 N/mm", 52.0, 7.0).solid
    False
    """

    label: str
    rate_n_per_mm: float
    preload_mm: float
    solid: bool = False


def window(request: Mapping[str, Any], marks: Sequence[Mark] = (), writing: Writing = METRIC) -> dict[str, Any]:
    """Return both sags over a grid of rate and preload, and the region in which both are in band.

    `request` holds one end as in `evaluate` (its springs say which legs carry one), both sag bands
    `target_static_sag_mm` and `target_rider_sag_mm`, `adjuster_mm` (the preload range shown, else 0 to 150)
    and `rates_n_per_mm` [low, high] (else from half to twice the rate needed for the bands' middles, within
    what is accepted). Springs are straight, alike in every leg or shock. Raises `Refusal`.

    Answers `rate_n_per_mm` and `preload_mm` (the grid's axes, mm and N/mm), `static_sag_mm` and
    `rider_sag_mm` (one row per preload, one value per rate), `in_band` alike, and `region`: for each rate of
    a finer row the least and the most preload that keep both sags in band, `p = F/k − s` at the bands' edges,
    only where there are any. `svg` draws the edges' lines, the region, and a dot for each of `marks` that lies
    within what is shown; the numbers of its axes are in the units of `writing`, its words say metric ones.

    Source: [1], [2].

    52 N/mm keeps the static sag in band from 2.5 to 6.5 mm and the rider sag from 2.4 to 6.4 mm (`calc.suits`), so of
    preloads 0.83 mm apart those of 3.3 to 5.8 mm serve.

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 7,
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 52}}
    >>> found = window({"rear": rear, "target_static_sag_mm": [25, 35], "target_rider_sag_mm": [90, 100],
    ...     "adjuster_mm": [0, 20], "rates_n_per_mm": [40, 64]})
    >>> at = found["rate_n_per_mm"].index(52.0)
    >>> [row[at] for row in found["in_band"]][:10]
    [False, False, False, False, True, True, True, True, False, False]
    """
    name = _check(request)
    end = end_from(bare(request[name], name), name)
    given = request[name]
    loads = sprung_load(given, "static"), sprung_load(given, "rider")
    wanted = wanted_from(request)
    low, high = _rates(request, end, loads, wanted, name)
    rates, preloads = np.linspace(low, high, POINTS), np.linspace(*wanted.adjuster, POINTS)
    sags = _sags(end, rates, preloads, loads)
    inside = _within(sags[0], wanted.static) & _within(sags[1], wanted.rider)
    fine = np.linspace(low, high, FINE)
    lines = edges(end, fine, wanted, loads)
    region = _region(fine, lines, wanted)
    return {
        "rate_n_per_mm": _plainly(rates / 1000),
        "preload_mm": _plainly(preloads * 1000),
        "static_sag_mm": [_plainly(row * 1000) for row in sags[0]],
        "rider_sag_mm": [_plainly(row * 1000) for row in sags[1]],
        "in_band": inside.tolist(),
        "region": {
            "rate_n_per_mm": _plainly(region[0] / 1000),
            "least_preload_mm": _plainly(region[1] * 1000),
            "most_preload_mm": _plainly(region[2] * 1000),
        },
        "svg": _drawn(name, fine, lines, region, wanted, marks, writing),
        "notes": [note.as_dict() for note in _notes(region)],
    }


def _check(request: Mapping[str, Any]) -> str:
    findings = Findings()
    name = end_asked(findings, request)
    check_end(findings, request[name], name, springs=False)
    check_targets(findings, request, travel_of(request[name], name))
    for sag in SAGS:
        if request.get(f"target_{sag}") is None:
            check_range(findings, None, f"target_{sag}", BANDS[f"target.{sag}"])
    if request.get("rates_n_per_mm") is not None:
        check_range(findings, request["rates_n_per_mm"], "rates_n_per_mm", _rate_band(name))
    if request.get("adjuster_mm") is not None and not findings.problems:
        low, high = request["adjuster_mm"]
        if low == high:
            findings.add("adjuster_mm", "no_range", say(
                "An adjuster from {low:g} to {high:g} mm leaves nothing to show.",
                low=low, high=high,
            ))
    findings.raise_any()
    return name


def _rate_band(name: str) -> Any:
    return BANDS["leg_spring.rate_n_per_mm" if name == "front" else "shock_spring.rate_n_per_mm"]


def _rates(
    request: Mapping[str, Any], end: Fork | Rear, loads: tuple[float, float], wanted: Wanted, name: str
) -> tuple[float, float]:
    """Return the rates shown, N/m: those asked for, else around the one that both bands' middles need."""
    asked = request.get("rates_n_per_mm")
    band = _rate_band(name)
    if asked is not None and asked[0] < asked[1]:
        return asked[0] * 1000, asked[1] * 1000
    aims = [min(middle, end.travel) for middle in (sum(wanted.static) / 2, wanted.aim)]
    force = [float(end.spring_share(aim, load)) for aim, load in zip(aims, loads, strict=True)]
    strokes = [float(end.spring_stroke(aim)) for aim in aims]
    rise = strokes[1] - strokes[0]
    rate = (force[1] - force[0]) / rise / 1000 if rise > 0 else 0.0
    rate = float(np.clip(rate, 2 * band.low, band.high / 2))
    return max(rate / 2, band.low) * 1000, min(rate * 2, band.high) * 1000


def _sags(end: Fork | Rear, rates: Array, preloads: Array, loads: tuple[float, float]) -> tuple[Array, Array]:
    """Return both sags (m), shape (preloads, rates), solved in one array."""
    springs = _straight(rates)
    # The batch lies along the last axis; a leading axis of one lets preloads lie along the first.
    held = Springs(*(getattr(springs, key)[None] for key in ("knots", "force", "rate", "bend", "solid")))
    fitted = end.with_springs(held, preloads[:, None])
    shape = (len(preloads), len(rates))
    static, rider = (np.broadcast_to(settle(fitted, load), shape) for load in loads)
    return static, rider


def _straight(rates: Array) -> Springs:
    return batch([straight(float(rate)) for rate in rates])


def _within(sag: Array, band: tuple[float, float]) -> NDArray[np.bool_]:
    return np.asarray((sag >= band[0] - 1e-7) & (sag <= band[1] + 1e-7))


def edges(end: Fork | Rear, rates: Array, wanted: Wanted, loads: tuple[float, float]) -> dict[str, tuple[Array, Array]]:
    """Return, for each sag and rate, the preloads (m) at which the sag is the most and the least accepted.

    A static band that begins at 0 has no most preload (∞), a band that reaches the stop no least one (−∞).

    `end` is a fork or rear, `rates` (N/m) of shape (rates,), `wanted` the bands, `loads` the sprung ones in N. Raises
    nothing. Source: [1].

    340 N are 850 N at the spring, 17 mm of 50 N/mm: less the strokes of 12 and 8 mm.

    >>> from calc.rear import rear_from
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> wanted = Wanted((0.02, 0.03), (0.09, 0.1), 0.095, (0.0, 0.02))
    >>> lines = edges(rear, np.array([5e4]), wanted, (340.0, 880.0))
    >>> [edge.round(4).tolist() for edge in lines["static_sag_mm"]]
    [[0.005], [0.009]]
    """
    springs = _straight(rates)
    found = {}
    for sag, band, load in zip(SAGS, (wanted.static, wanted.rider), loads, strict=True):
        place = end.with_springs(springs, 0.0)
        least = np.full(rates.shape, -np.inf) if band[1] >= end.travel else preload_at(place, springs, band[1], load)
        most = preload_at(place, springs, band[0], load) if band[0] > 0 else np.full(rates.shape, np.inf)
        found[sag] = least, most
    return found


def _region(rates: Array, lines: Mapping[str, tuple[Array, Array]], wanted: Wanted) -> tuple[Array, Array, Array]:
    """Return the rates at which some preload serves, and its least and most there."""
    low, high = wanted.adjuster
    least = np.maximum.reduce([line[0] for line in lines.values()] + [np.full(rates.shape, low)])
    most = np.minimum.reduce([line[1] for line in lines.values()] + [np.full(rates.shape, high)])
    some = least <= most
    return rates[some], least[some], most[some]


def _plainly(values: Array) -> list[float]:
    return [rounded(value) for value in values.tolist()]


def _notes(region: tuple[Array, Array, Array]) -> list[Note]:
    if len(region[0]):
        low, high = region[0][0] / 1000, region[0][-1] / 1000
        return [Note("rates_that_serve", "info", say(
            "Straight springs of {low:.3g} to {high:.3g} N/mm can serve.",
            low=low, high=high,
        ))]
    text = say("No straight spring shown brings both sags into band at any preload of the adjuster.")
    return [Note("none_serves", "warning", text)]


def _drawn(
    name: str,
    rates: Array,
    lines: Mapping[str, tuple[Array, Array]],
    region: tuple[Array, Array, Array],
    wanted: Wanted,
    marks: Sequence[Mark],
    writing: Writing,
) -> str:
    """Draw preload over rate: the region, each band edge's line with its name, and the marked springs."""
    span = rates[0], rates[-1]
    low, high = wanted.adjuster

    def place(rate: Array, preload: Array) -> Array:
        x = X0 + (X1 - X0) * (rate - span[0]) / (span[1] - span[0])
        return np.column_stack((x, Y1 - (Y1 - Y0) * (preload - low) / (high - low)))

    body = _grid(span, (low, high), writing)
    if len(region[0]) > 1:
        around = np.vstack((place(region[0], region[1]), place(region[0], region[2])[::-1]))
        body.append(f'<path class="pic-band" d="{path_data(around)}Z" fill="#000" fill-opacity="0.14"/>')
    sheet = Sheet(Box(X0 + 6, Y0, X1 - X0 - 6, Y1 - Y0))
    labels, dots = [], []
    for mark in marks:
        if span[0] <= mark.rate_n_per_mm * 1000 <= span[1] and low <= mark.preload_mm / 1000 <= high:
            spot = place(np.array([mark.rate_n_per_mm * 1000]), np.array([mark.preload_mm / 1000]))
            dots.append(_dot(spot[0], mark.solid))
            ring = spot + DOT * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]])
            sheet.mark_line(ring)
            labels.append((mark.label, ring))
    for sag, band in zip(SAGS, (wanted.static, wanted.rider), strict=True):
        word, dashes = _ROLES[sag]
        for edge, preload in zip((band[1], band[0]), lines[sag], strict=True):
            shown = (preload >= low) & (preload <= high)
            if np.count_nonzero(shown) < 2:
                continue
            line = place(rates[shown], preload[shown])
            sheet.mark_line(line)
            body.append(curve("trace", line, 2.5, dashes))
            labels.append((say("{word} {edge:.0f} mm", word=word, edge=edge * 1000), line))
    for text, line in labels:
        others = [other for _, other in labels if other is not line]
        found = sheet.place(text_width(text, SIZE) + 8, SIZE + 4, line, others)
        if found.distance > FAR or found.unclear:
            body.append(segment("leader", found.start, found.touch, 1))
        body.append(words_at("label", found.box.x + 4, found.box.y + SIZE - 2, text))
    body += dots
    numbers = {"x0": X0, "x1": X1, "y0": Y0, "y1": Y1, "rate-min": span[0] / 1000, "rate-max": span[1] / 1000}
    numbers |= {"preload-min": low * 1000, "preload-max": high * 1000}
    title = say(
        "{word}: rates and preloads that keep both sags in band",
        word=say("Fork") if name == "front" else say("Rear"),
    )
    told = " ".join(say(
        "{label}: {rate_n_per_mm:g} N/mm, {preload_mm:g} mm preload.",
        label=mark.label, rate_n_per_mm=mark.rate_n_per_mm, preload_mm=mark.preload_mm,
    ) for mark in marks)
    return wrap(title, f"{_notes(region)[0].text} {told}".strip(), "\n".join(body), HEIGHT, name, numbers)


def _dot(spot: Array, solid: bool) -> str:
    kind, fill = ("solid", "#000") if solid else ("open", "#fff")
    x, y = coordinate(spot[0]), coordinate(spot[1])
    ring = f'r="{DOT}" fill="{fill}" stroke="#000" stroke-width="3"'
    return f'<circle class="pic-{kind} pic-mark" cx="{x}" cy="{y}" {ring}/>'


def _grid(span: Sequence[float], adjuster: tuple[float, float], writing: Writing) -> list[str]:
    """Draw both axes with their numbers and names."""
    low, high = (preload * 1000 / writing.mm for preload in adjuster)
    out = [
        words_at("name", 6, Y0 - 20, say("Preload, {unit}", unit=writing.length)),
        words_at("name", X1, Y1 + 56, say("Rate, {unit}", unit=writing.rate), anchor="end"),
    ]
    for tick in _ticks(low, high):
        y = Y1 - (Y1 - Y0) * (tick - low) / (high - low)
        out.append(segment("grid", (X0, y), (X1, y), 0.75, extra=faint("grid")))
        out.append(words_at("tick", X0 - 8, min(y + 8, Y1), writing.number(tick), anchor="end"))
    first, last = (rate / 1000 / writing.n_per_mm for rate in (span[0], span[-1]))
    for tick in _ticks(first, last):
        x = X0 + (X1 - X0) * (tick - first) / (last - first)
        out.append(segment("grid", (x, Y0), (x, Y1), 0.75, extra=faint("grid")))
        out.append(words_at("tick", x, Y1 + 28, writing.number(tick), anchor="end" if x > X1 - 20 else "middle"))
    out.append(curve("axis", np.array([[X0, Y0], [X0, Y1], [X1, Y1]]), 2))
    return out


def _ticks(low: float, high: float) -> list[float]:
    step = nice_step(high - low, 6)
    first = step * np.ceil(low / step - 1e-9)
    return [float(tick) + 0.0 for tick in np.arange(first, high + step * 1e-6, step)]
