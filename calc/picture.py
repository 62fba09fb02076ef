"""The one picture: force over travel with its sags, drawn once, as SVG, for screen, customer page and PDF.

Line patterns, widths, sizes and a black-on-white ink are presentation attributes of the SVG, so that the
picture is complete wherever no style sheet reaches it (WeasyPrint applies none of the page's rules to an
inline SVG, and a strict content security policy allows no inline style). Classes (`pic-…`) let
frontend/css/picture.css re-colour it on screen: a style rule always overrides a presentation attribute.

Source: [1] WCAG 2.2, 1.4.1 (never by colour alone) and WAI-ARIA 1.2 (a graphic's name and description), from memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np

from calc.drawing import (
    SIZE,
    Line,
    coordinate,
    curve,
    dot,
    faint,
    figure_at,
    nice_step,
    path_data,
    points_of,
    segment,
    thinned,
    words_at,
    wrap,
)
from calc.placing import Box, Place, Sheet, fit_text, stay, text_width
from calc.refusal import Problem, Refusal
from calc.words import mark, say
from calc.writing import Writing

HEIGHT = 480
NUMERAL = 26
"""Size of the sags' numerals, the numbers that the picture is looked at for."""
_TOP = 46
_RIGHT = 700
_AXIS = 416
_ROW = 34

Point = tuple[float, float]


@dataclass(frozen=True)
class Look:
    """How one role is told apart without colour: line `width` in units of the picture, `dashes` and the shape of its
    sag marks, `mark`.

    Source: [1].

    >>> ROLES["chosen"].dashes
    ''
    """

    width: float
    dashes: str
    mark: str


ROLES = {
    "received": Look(3, "13 8", "ring"),
    "chosen": Look(4, "", "disc"),
    "built": Look(4, "18 6 3 6", "square"),
    "soft_wound_up": Look(2, "30 9", "diamond"),
}
_LEADING = ("built", "chosen", "received", "soft_wound_up")
_AXIS_NAMES = {"front": mark("Travel along the fork"), "rear": mark("Wheel travel, vertical")}
_AIR_NAMES = {"front": mark("air"), "rear": mark("gas")}


@dataclass(frozen=True)
class Scale:
    """The plot's pixel box, `x0` to `x1` and `y0` (top) to `y1` in units of the picture, and what its far corner
    stands for: `travel_max` in mm, `force_max` in N.

    Raises nothing; values outside are held at the edge. Source: none (drawing).

    >>> scale = Scale(0.0, 100.0, 0.0, 50.0, 200.0, 1000.0)
    >>> scale.line([0.0, 100.0], [0.0, 500.0]).tolist()
    [[0.0, 50.0], [50.0, 25.0]]
    """

    x0: float
    x1: float
    y0: float
    y1: float
    travel_max: float
    force_max: float

    def x(self, travel_mm: Any) -> Any:
        """Return the horizontal place of a travel, kept inside the plot.

        `travel_mm` is in mm, any shape.
        """
        return self.x0 + (self.x1 - self.x0) * np.clip(np.asarray(travel_mm, float) / self.travel_max, 0.0, 1.0)

    def y(self, force_n: Any) -> Any:
        """Return the vertical place of a force, kept inside the plot.

        `force_n` is in N, any shape.
        """
        return self.y1 - (self.y1 - self.y0) * np.clip(np.asarray(force_n, float) / self.force_max, 0.0, 1.0)

    def line(self, travel_mm: Any, force_n: Any) -> Line:
        """Return a curve as places, shape (points, 2).

        `travel_mm` in mm and `force_n` in N have shape (points,).
        """
        return np.column_stack((self.x(travel_mm), self.y(force_n)))


@dataclass(frozen=True)
class Layout:
    """What of a picture can be held while its curves move: its `scale` and each label's place by its key, `places`.

    Lengths are in units of the picture. Raises nothing. Source: none (drawing).

    >>> Layout(Scale(0.0, 100.0, 0.0, 50.0, 200.0, 1000.0), {}).scale.travel_max
    200.0
    """

    scale: Scale
    places: Mapping[str, Place]


def picture(request: Mapping[str, Any], held: Layout | None = None) -> str:
    """Draw one end's force over travel, and return the SVG as text.

    `request` holds `end` ("front" or "rear"), `title`, `description`, `traces` and the sprung loads
    vertical at the wheel, `load_static_n` and `load_rider_n` (N, either may be None). A trace holds its
    `role` (a key of `ROLES`), its `label`, a `curve` as `calc.evaluate` answers it (mm and N, at least two
    points) and its `static_sag_mm` and `rider_sag_mm` (either may be None). The built trace, else the
    chosen, else the received one also shows its spring and air parts and the band up to a hard hit. Words
    never lie over a line or over each other while there is room. Raises `Refusal` where curves cannot be
    drawn.

    Optional: `units` (`length`, `force`) and `decimal`, how the numbers are written; `held`, the layout of
    another picture with the same traces, so that nothing but the curves moves while a hand drags them.

    The `<svg>` carries the pixel box of the plot (`data-x0`, `data-x1`, `data-y0`, `data-y1`, y0 at the
    top) and what its far corner stands for (`data-travel-max`, mm, `data-force-max`, N) for a pointer's
    read-out.

    Source: [1].

    >>> curve = {"travel_mm": [0, 100, 200], "spring_n": [90, 990, 1890], "air_n": [0, 80, 400],
    ...          "total_n": [90, 1070, 2290]}
    >>> svg = picture({"end": "front", "title": "Front", "description": "", "load_static_n": 400.0,
    ...                "load_rider_n": 700.0, "traces": [{"role": "chosen", "label": "4.6 N/mm",
    ...                "curve": curve, "static_sag_mm": 31.6, "rider_sag_mm": 62.2}]})
    >>> svg.startswith("<svg") and svg.count("pic-mark") == 4
    True
    """
    return _drawing(request, held)[0]


def layout(request: Mapping[str, Any]) -> Layout:
    """Return the layout of the picture of `request`, for others to be drawn in; raises `Refusal` as `picture` does.

    `request` is the mapping that `picture` takes. Raises `Refusal`. Source: none (drawing).

    >>> curve = {"travel_mm": [0, 100, 200], "total_n": [90, 1070, 2290]}
    >>> found = layout({"end": "front", "title": "Front", "description": "", "load_static_n": 400.0,
    ...                 "load_rider_n": None, "traces": [{"role": "chosen", "label": "4.6 N/mm", "curve": curve,
    ...                 "static_sag_mm": 31.6, "rider_sag_mm": None}]})
    >>> found.scale.force_max, sorted(found.places)
    (2500.0, ['chosen', 'load_static_n'])
    """
    return _drawing(request, None)[1]


def _drawing(request: Mapping[str, Any], held: Layout | None) -> tuple[str, Layout]:
    """Return the picture and its layout."""
    check_picture(request)
    writing = Writing(**(request.get("units") or {}), decimal=request.get("decimal") or ".")
    traces = sorted(request["traces"], key=lambda trace: list(ROLES).index(trace["role"]))
    leading = min(traces, key=lambda trace: _LEADING.index(trace["role"]))
    loads = (request.get("load_static_n"), request.get("load_rider_n"))
    scale = held.scale if held else _scale(traces, leading, loads, writing)
    words = _Words(scale, held)
    lines = {id(trace): scale.line(trace["curve"]["travel_mm"], trace["curve"]["total_n"]) for trace in traces}
    drawn = {key: thinned(line) for key, line in lines.items()}
    forces = say("Force at the wheel, {force}", force=writing.force)
    body = [
        _grid(scale, len(traces), forces, say(_AXIS_NAMES[request["end"]]), writing),
        *_parts(scale, leading, drawn[id(leading)], words, say(_AIR_NAMES[request["end"]]), writing),
        *_loads(scale, request, words, writing),
        *_totals(traces, lines, drawn, words),
        *_sags(scale, traces, leading, words, writing),
    ]
    body += words.drawn()
    return _wrap(request, scale, "\n".join(part for part in body if part)), Layout(scale, words.places)


def check_picture(request: Mapping[str, Any]) -> None:
    """Refuse columns of unlike length, travel that does not rise, and a role given twice.

    `request` is the mapping that `picture` takes. Raises `Refusal`. Source: none (drawing).

    >>> check_picture({"traces": [{"role": "chosen", "curve": {"travel_mm": [0, 1], "total_n": [0, 5]}}]})
    """
    problems, roles = [], []
    for index, trace in enumerate(request["traces"]):
        path, curve = f"traces.{index}", trace["curve"]
        if trace["role"] in roles:
            text = say("The role {role} is given twice; a picture shows each role once.", role=trace["role"])
            problems.append(Problem(f"{path}.role", "given_twice", text, trace["role"]))
        roles.append(trace["role"])
        travel = curve["travel_mm"]
        for name, values in curve.items():
            if values is not None and len(values) != len(travel):
                text = say(
                    "{name} has {count} points but travel_mm has {count2}; each needs its partner.",
                    name=name, count=len(values), count2=len(travel),
                )
                problems.append(Problem(f"{path}.curve.{name}", "unpaired", text))
        if any(after <= before for before, after in pairwise(travel)):
            text = say("The curve's travel must rise from point to point.")
            problems.append(Problem(f"{path}.curve.travel_mm", "not_rising", text, None, "mm"))
    if problems:
        raise Refusal(*problems)


def _scale(
    traces: Sequence[Mapping[str, Any]], leading: Mapping[str, Any], loads: Sequence[float | None], writing: Writing
) -> Scale:
    """Choose the plot's box and round limits that hold every trace and load.

    A hard hit may leave at the top: shown to its end it would press the sags, which matter most, together.
    """
    forces = [float(np.max(trace["curve"]["total_n"])) for trace in traces]
    forces += [min(1.15 * max(forces), float(np.max(leading["curve"].get("total_hard_n") or [0.0])))]
    forces += [load for load in loads if load is not None]
    travel = max(float(np.max(trace["curve"]["travel_mm"])) for trace in traces)
    highest = max(*forces, 1e-6) / writing.n
    step = nice_step(highest, 5)
    force_max = step * np.ceil(highest / step * 0.9999)
    x0 = 14 + text_width(writing.number(float(force_max)), SIZE)
    bottom = _AXIS - _ROW * len(traces)
    return Scale(round(x0, 1), _RIGHT, _TOP, bottom, max(travel, 1e-6), float(force_max * writing.n))


@lru_cache(maxsize=64)
def _grid(scale: Scale, rows: int, forces: str, travels: str, writing: Writing) -> str:
    """Draw axes, their ticks, numbers and names, and the ruler under the plot on which the sags are read.

    While a hand moves the curves it stays as it is, and is kept.
    """
    out = [words_at("name", 6, _TOP - 20, forces)]
    highest = scale.force_max / writing.n
    step = nice_step(highest, 5)
    for force in np.arange(0.0, highest + step / 2, step).tolist():
        y = float(scale.y(force * writing.n))
        kind = "axis" if force == 0 else "grid"
        out.append(segment(kind, (scale.x0, y), (scale.x1, y), 2 if force == 0 else 0.75, extra=faint(kind)))
        out.append(words_at("tick", scale.x0 - 8, min(y + 8, scale.y1 - 2), writing.number(force), anchor="end"))
    bottom = scale.y1 + rows * _ROW
    for row in range(1, rows + 1):
        y = scale.y1 + row * _ROW
        out.append(segment("axis", (scale.x0, y), (scale.x1, y), 1.25))
    furthest = scale.travel_max / writing.mm
    for travel in np.arange(0.0, furthest * 1.0001, nice_step(furthest, 6)).tolist():
        x = float(scale.x(travel * writing.mm))
        out.append(segment("grid", (x, scale.y0), (x, scale.y1), 0.75, extra=faint("grid")))
        out.append(segment("axis", (x, bottom), (x, bottom + 7), 1.25))
        anchor = "end" if x > _RIGHT - 20 else "middle"
        out.append(words_at("tick", x, bottom + 28, writing.number(travel), anchor=anchor))
    out.append(words_at("name", scale.x1, bottom + 54, f"{travels}, {writing.length}", anchor="end"))
    return "\n".join(out)


class _Words:
    """The labels of a picture: each is given its line, all are placed once every line is known; or they stay where
    those of the `held` layout stand.
    """

    def __init__(self, scale: Scale, held: Layout | None) -> None:
        self.width = scale.x1 - scale.x0
        self.places: dict[str, Place] = {}
        self._held = held.places if held else None
        self.held = held is not None
        self._sheet = Sheet(Box(scale.x0 + 6, scale.y0, scale.x1 - scale.x0 - 6, scale.y1 - scale.y0))
        self._lines: list[Line] = []
        self._wanted: list[tuple[int, str, str, Line, Look | None]] = []

    def line(self, key: str, rank: int, text: str, line: Line, sample: Look | None = None) -> None:
        """Note a drawn line and ask for words beside its outer half.

        Low ranks choose first; `sample` shows the line's pattern before the words.
        """
        self.avoid(line)
        self._lines.append(line)
        self._wanted.append((rank, key, text, line, sample))

    def level(self, key: str, text: str, line: Line) -> None:
        """Note a load's level and ask for words beside it; stacked like the levels, they need no leaders."""
        self.avoid(line)
        self._wanted.append((0, key, text, line, None))

    def avoid(self, drawn: Line | Box) -> None:
        """Note a line or a box that no words may cover."""
        if self._held is not None:
            return
        if isinstance(drawn, Box):
            self._sheet.mark_box(drawn)
        else:
            self._sheet.mark_line(drawn)

    def drawn(self) -> list[str]:
        """Place all words and return what draws them, with a thin leader where they had to move away."""
        out = []
        for rank, key, text, line, sample in sorted(self._wanted, key=lambda wanted: wanted[0]):
            lead = 52.0 if sample else 0.0
            fitted = fit_text(text, SIZE, self.width * 0.6)
            half = line[len(line) // 2 :] if rank else line
            place = self._place(key, rank, lead + text_width(fitted, SIZE) + 10, half, line)
            if place is None:
                continue
            # A held label keeps its leader, or does without: lines that come and go under the hand say nothing.
            if rank and (place.distance > 14 or place.unclear):
                out.append(self._leader(place if self._held is None else stay(place.box, half)))
            out += self._label(place, fitted, sample, lead)
            self.places[key] = place
        return out

    def _place(self, key: str, rank: int, width: float, half: Line, line: Line) -> Place | None:
        if self._held is not None:
            # What the held picture did not show has no place kept for its words.
            return self._held.get(key)
        others = [other for other in self._lines if rank and other is not line]
        return self._sheet.place(width, SIZE + 6, half, others)

    @staticmethod
    def _leader(place: Place) -> str:
        """Draw the thin line from a label's box to the line that it names."""
        return segment("leader", place.start, place.touch, 1)

    @staticmethod
    def _label(place: Place, text: str, sample: Look | None, lead: float) -> list[str]:
        box, out = place.box, []
        middle = box.y + box.h / 2
        if place.crowded:
            out.append(
                f'<rect class="pic-plate" x="{coordinate(box.x)}" y="{coordinate(box.y)}" width="{coordinate(box.w)}"'
                f' height="{coordinate(box.h)}" fill="#fff"/>'
            )
        if sample:
            ends = (box.x + 4, middle), (box.x + lead - 4, middle)
            out.append(segment("sample", *ends, sample.width, sample.dashes))
        out.append(words_at("label", box.x + lead + 5, middle + 8, text))
        return out


def _parts(
    scale: Scale, leading: Mapping[str, Any], total: Line, words: _Words, air_name: str, writing: Writing
) -> list[str]:
    """Draw the leading trace's band from its `total` up to a hard hit, and its spring and air parts."""
    given, out = leading["curve"], []
    if given.get("total_hard_n"):
        hard = _cut(scale, given["travel_mm"], given["total_hard_n"])
        if float(np.max(given["total_hard_n"]) - np.max(given["total_n"])) > 0.02 * scale.force_max:
            corner = np.array([[scale.x1, scale.y0]]) if hard[-1, 0] < scale.x1 else np.empty((0, 2))
            edge = thinned(hard)
            area = points_of(np.vstack((total, corner, edge[::-1])))
            out.append(f'<polygon class="pic-band" points="{area}" fill="#000" fill-opacity="0.09"/>')
            out.append(curve("hard", edge, 1.25))
            words.line("hard", 2, say(
                "hard hit, {load} at the stop",
                load=writing.load(max(given["total_hard_n"])),
            ), hard)
    for key, name, dashes in (("spring_n", say("spring"), "2 5"), ("air_n", air_name, "7 5")):
        values = given.get(key)
        if not values or float(np.max(np.abs(values))) < scale.force_max * 0.004:
            continue
        part = scale.line(given["travel_mm"], values)
        out.append(curve("part", thinned(part), 2, dashes))
        words.line(key, 3, name, part)
    return out


def _cut(scale: Scale, travel_mm: Sequence[float], force_n: Sequence[float]) -> Line:
    """Return a rising curve as places, ended where it leaves the plot at the top."""
    force = np.asarray(force_n, float)
    over = np.flatnonzero(force > scale.force_max)
    if not over.size or over[0] == 0:
        return scale.line(travel_mm, force_n)
    last = int(over[0])
    leaves = np.interp(scale.force_max, force[last - 1 : last + 1], np.asarray(travel_mm, float)[last - 1 : last + 1])
    return scale.line([*travel_mm[:last], leaves], [*force_n[:last], scale.force_max])


def _loads(scale: Scale, request: Mapping[str, Any], words: _Words, writing: Writing) -> list[str]:
    """Draw the level of each sprung load, as far as the last curve that carries it."""
    out = []
    reach = max(float(scale.x(trace.get("rider_sag_mm") or scale.travel_max)) for trace in request["traces"]) + 24
    for key, name in (("load_static_n", say("bike alone")), ("load_rider_n", say("with rider"))):
        load = request.get(key)
        if load is None:
            continue
        y = float(scale.y(load))
        level = np.array([[scale.x0, y], [min(reach, scale.x1), y]])
        out.append(curve("load", level, 1.5))
        words.level(key, f"{name} {writing.load(load)}", level)
    return out


def _totals(
    traces: Sequence[Mapping[str, Any]], lines: Mapping[int, Line], drawn: Mapping[int, Line], words: _Words
) -> list[str]:
    """Draw each trace's total force, the leading ones over the others; words keep clear of its whole line."""
    out = []
    for trace in sorted(traces, key=lambda trace: -_LEADING.index(trace["role"])):
        look = ROLES[trace["role"]]
        out.append(curve(f"trace pic-{trace['role']}", drawn[id(trace)], look.width, look.dashes))
        words.line(trace["role"], 1, trace["label"], lines[id(trace)], look)
    return out


def _marks(shape: str, places: Sequence[tuple[float, float]]) -> list[str]:
    """Draw the marks of one trace's sags: the shape tells the trace."""
    if shape == "disc":
        return [dot("mark", x, y, 15.5) for x, y in places]
    paint = f'class="pic-mark pic-{"solid" if shape == "square" else "open"}" stroke="#000" stroke-width="2.5"'
    outlines = "".join(_outline(shape, x, y) for x, y in places)
    return [f'<path {paint} fill="{"#000" if shape == "square" else "#fff"}" d="{outlines}"/>']


def _outline(shape: str, x: float, y: float) -> str:
    if shape == "ring":
        half = "a6.5 6.5 0 1 0 "
        return f"M{coordinate(x - 6.5)} {coordinate(y)}{half}13 0{half}-13 0Z"
    reach = 6 if shape == "square" else 8
    corners = [(-1, -1), (1, -1), (1, 1), (-1, 1)] if shape == "square" else [(0, -1), (1, 0), (0, 1), (-1, 0)]
    return path_data(np.array([x, y]) + reach * np.array(corners)) + "Z"


def _sags(
    scale: Scale,
    traces: Sequence[Mapping[str, Any]],
    leading: Mapping[str, Any],
    words: _Words,
    writing: Writing,
) -> list[str]:
    """Mark where each sag falls on its curve, and write it on the trace's row of the ruler."""
    drops: list[str] = []
    marks: list[str] = []
    led = [
        float(scale.x(sag)) for sag in (leading.get("static_sag_mm"), leading.get("rider_sag_mm")) if sag is not None
    ]
    for row, trace in enumerate(traces):
        middle = scale.y1 + (row + 0.5) * _ROW
        found, places = [], []
        for key, word in (("static_sag_mm", say("static")), ("rider_sag_mm", say("rider"))):
            sag = trace.get(key)
            if sag is None:
                continue
            x = float(scale.x(sag))
            y = float(scale.y(np.interp(sag, trace["curve"]["travel_mm"], trace["curve"]["total_n"])))
            if trace is leading:
                drop = np.array([[x, y], [x, middle]])
                drops.append(curve("drop", drop, 1.25, "3 4"))
                words.avoid(drop)
            words.avoid(Box(x - 10, y - 10, 20, 20))
            places += [(x, y), (x, middle)]
            found.append((x, writing.sag(sag), word))
        if places:
            marks += _marks(ROLES[trace["role"]].mark, places)
        passing = led if row < traces.index(leading) else []
        marks += _row(scale, middle, found, passing, trace["label"], writing.length, words.held)
    return [*drops, *marks]


def _row(
    scale: Scale,
    middle: float,
    found: Sequence[tuple[float, str, str]],
    passing: Sequence[float],
    label: str,
    unit: str,
    held: bool,
) -> list[str]:
    """Write one trace's sags on its row, each beside its mark, and in the widest gap left whose they are.

    `passing` are the places of the leading trace's drop lines, which words avoid while they can.
    """
    out: list[str] = []
    taken = [Box(x - 11, middle - 14, 22, 28) for x, _, _ in found]
    for x, numeral, word in reversed(found):
        box, tail = _seat(taken, passing, x, middle, numeral, (f"{unit} {word}", unit, ""))
        taken.append(box)
        # Under the hand an element stays one, with or without words in it.
        out.append(figure_at(box.x + 2, middle + 9, numeral, NUMERAL, tail if tail or held else None))
    edges = sorted([(scale.x0, scale.x0), (scale.x1, scale.x1), *((box.x, box.x + box.w) for box in taken)])
    left, right = max(((before[1], after[0]) for before, after in pairwise(edges)), key=lambda gap: gap[1] - gap[0])
    room = right - left - 24
    # What stands before a colon tells the traces apart well enough.
    fuller = (say("sag: {label}", label=label), label, label.partition(":")[0])
    words = next((each for each in fuller if text_width(each, SIZE) <= room), fit_text(fuller[-1], SIZE, room))
    if right >= scale.x1:
        return [*out, words_at("row", right - 4, middle + 8, words, anchor="end")]
    return [*out, words_at("row", left + 12, middle + 8, words)]


def _seat(
    taken: Sequence[Box], passing: Sequence[float], x: float, middle: float, numeral: str, tails: Sequence[str]
) -> tuple[Box, str]:
    """Choose the box and the words after a sag's numeral: the fullest that is free beside its mark at x."""
    bare = text_width(numeral, NUMERAL, True) + 4
    crossing = [Box(line - 3, middle - 14, 6, 28) for line in passing]
    for avoided in ([*taken, *crossing], taken):
        for tail in tails:
            width = bare + (text_width(tail, SIZE) + 4 if tail else 0)
            for left in (x + 12, x - 12 - width):
                box = Box(left, middle - 14, width, 28)
                if left >= 4 and left + width <= _RIGHT and not any(box.meets(other) for other in avoided):
                    return box, tail
    leftmost = min(other.x for other in taken)
    return Box(max(4.0, leftmost - bare - 2), middle - 14, bare, 28), ""


def _wrap(request: Mapping[str, Any], scale: Scale, body: str) -> str:
    """Return the whole SVG with its title, its description and the read-out's figures."""
    numbers = {"x0": scale.x0, "x1": scale.x1, "y0": scale.y0, "y1": scale.y1}
    numbers |= {"travel-max": scale.travel_max, "force-max": scale.force_max}
    return wrap(request["title"], request["description"], body, HEIGHT, request["end"], numbers)
