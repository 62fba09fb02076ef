"""The strokes, words and frame that every picture is drawn with: SVG as text, by class, complete without a style sheet.

Line patterns, widths, sizes and a black-on-white ink are presentation attributes, so that a picture is whole
where no style sheet reaches it; classes (`pic-…`) let frontend/css/picture.css re-colour it on screen.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from html import escape
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from calc.words import number as spoken

WIDTH = 720
SIZE = 22
"""Size of the words: 11 px on a phone 390 px wide, 13 pt across an A4 page."""

THINNED = 0.2
"""So far may a drawn curve pass beside one of its points, in units of the picture: less than is seen."""
_SHORTEST = 1e-9
"""Points that lie closer beside each other than this are taken to be so far apart: a curve has no slope straight up."""

Line = NDArray[np.float64]


def nice_step(span: float, most: int) -> float:
    """Return the smallest step of 1, 2, 2.5 or 5 × 10ⁿ that divides `span` into at most `most` parts.

    `span` is a length above 0 in any unit, `most` a number of parts; the step is in the same unit as `span`. Raises
    nothing. Source: common practice, no source.

    >>> nice_step(1900.0, 5)
    500.0
    """
    power = 10.0 ** np.floor(np.log10(span / most))
    return float(next(factor * power for factor in (1, 2, 2.5, 5, 10) if span / (factor * power) <= most + 1e-9))


def number(value: float, decimal: str = "") -> str:
    """Write a tick's number: no trailing zeros, a narrow space before thousands from ten thousand up.

    `value` is any finite number, `decimal` the sign before its decimals (else the language's).
    Raises nothing. Source: none (wording).

    >>> number(2.50), number(2.5, ","), number(12000.0)
    ('2.5', '2,5', '12\u202f000')
    """
    text = f"{value:.6g}"
    if "e" in text or abs(value) < 10_000:
        return text.replace(".", decimal or spoken(0.5, ".1f")[1])
    return f"{value:,.0f}".replace(",", "\u202f")


def coordinate(value: float) -> str:
    """Write a coordinate, to a tenth.

    `value` is in units of the picture. Raises nothing. Source: none (drawing).

    >>> coordinate(12.04), coordinate(0.55)
    ('12', '0.6')
    """
    return f"{value:.1f}".removesuffix(".0")


def plain(text: str) -> str:
    """Return words escaped for XML, without the control characters that XML forbids.

    `text` is any string. Raises nothing. Source: XML 1.0, from memory.

    >>> plain("4 < 5")
    '4 &lt; 5'
    """
    return escape("".join(char if char.isprintable() else " " for char in text))


def path_data(line: Line) -> str:
    """Write a line as path data.

    `line` has shape (points, 2), in units of the picture. Raises nothing. Source: SVG 1.1, from memory.

    >>> path_data(np.array([[0.0, 1.0], [2.5, 3.0]]))
    'M0 1L2.5 3'
    """
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in np.round(line, 1).tolist())


def segment(
    kind: str, start: Sequence[float], end: Sequence[float], width: float, dashes: str = "", extra: str = ""
) -> str:
    """Return a straight line of class `pic-<kind>`.

    `kind` names the class, `start` and `end` are x and y in units of the picture, as is `width`; `dashes` is the
    pattern, `extra` further attributes. Raises nothing. Source: none (drawing).

    >>> segment("grid", (0.0, 1.0), (2.0, 3.0), 1)[:54]
    '<line class="pic-grid" x1="0" y1="1" x2="2" y2="3" fil'
    """
    (x1, y1), (x2, y2) = ((f"{part:g}" for part in np.round(place, 1).tolist()) for place in (start, end))
    return f'<line class="pic-{kind}" x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" {_pen(width, dashes)}{extra}/>'


def thinned(line: Line) -> Line:
    """Return a curve without the points that the others stand for: no point lies further than `THINNED` from it.

    From each point that is kept the next is as far as a straight line passes all between close enough. Under a hand a
    curve is drawn, laid out and sent many times a second, and few points are quicker. `line` has shape (points, 2),
    in units of the picture, its first column never falling; the answer is some of its points, both ends among them.
    Raises nothing. Source: opening-window simplification of a line, from memory.

    >>> thinned(np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [3.0, 9.0]])).tolist()
    [[0.0, 0.0], [2.0, 2.0], [3.0, 9.0]]
    """
    places = line.tolist()
    kept = places[:1]
    lowest, highest = -np.inf, np.inf
    for before, (x, y) in pairwise(places):
        run = max(x - kept[-1][0], _SHORTEST)
        if not lowest * run <= y - kept[-1][1] <= highest * run:
            kept.append(before)
            run, lowest, highest = max(x - before[0], _SHORTEST), -np.inf, np.inf
        rise = y - kept[-1][1]
        lowest, highest = max(lowest, (rise - THINNED) / run), min(highest, (rise + THINNED) / run)
    return np.array([*kept, places[-1]])


def points_of(line: Line) -> str:
    """Write a line as the points of a polyline or a polygon.

    `line` has shape (points, 2), in units of the picture. Raises nothing. Source: SVG 1.1, from memory.

    >>> points_of(np.array([[0.0, 1.0], [2.5, 3.0]]))
    '0,1 2.5,3'
    """
    return " ".join(f"{x:g},{y:g}" for x, y in np.round(line, 1).tolist())


def curve(kind: str, line: Line, width: float, dashes: str = "") -> str:
    """Return a line of class `pic-<kind>` that a hand may move.

    It is a polyline: a browser takes a path's data for style, and works the style out for each change of it. `kind`
    names the class, `line` has shape (points, 2), `width` is in units of the picture, `dashes` the pattern. Raises
    nothing. Source: none (drawing).

    >>> curve("trace", np.array([[0.0, 1.0], [2.0, 3.0]]), 4)[:48]
    '<polyline class="pic-trace" points="0,1 2,3" fil'
    """
    return f'<polyline class="pic-{kind}" points="{points_of(line)}" {_pen(width, dashes)}/>'


def dot(kind: str, x: float, y: float, width: float) -> str:
    """Return a disc of class `pic-<kind>` that a hand may move.

    It is a line of no length with round ends, for the reason that `curve` gives. `kind` names the class; the middle
    `x`, `y` and the `width` across are in units of the picture. Raises nothing. Source: SVG 1.1, from memory (caps).

    >>> dot("mark", 5.0, 9.5, 15.5)[:49]
    '<polyline class="pic-mark" points="5,9.5 5,9.5" f'
    """
    at = points_of(np.array([[x, y], [x, y]]))
    return f'<polyline class="pic-{kind}" points="{at}" {_pen(width, "")} stroke-linecap="round"/>'


def _pen(width: float, dashes: str) -> str:
    """Return the attributes of a line's ink."""
    pattern = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'fill="none" stroke="#000" stroke-width="{width:g}" stroke-linejoin="round"{pattern}'


def words_at(
    kind: str, x: float, y: float, text: str, size: float = SIZE, anchor: str = "start", bold: bool = False
) -> str:
    """Return words of class `pic-<kind>` with their baseline at y, escaped.

    `kind` names the class, `x` and `y` are in units of the picture, as is `size`; `text` is escaped, `anchor` is
    start, middle or end, `bold` thickens. Raises nothing. Source: none (drawing).

    >>> words_at("tick", 1, 2, "a & b").endswith(">a &amp; b</text>")
    True
    """
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text class="pic-{kind}" x="{coordinate(x)}" y="{coordinate(y)}" font-size="{size:g}" text-anchor="{anchor}"'
        f'{weight} fill="#000">{plain(text)}</text>'
    )


def figure_at(x: float, y: float, numeral: str, size: float, tail: str | None) -> str:
    """Return a numeral, bold, and its unit behind it, smaller, as one text with its baseline at y, escaped.

    `x`, `y` and the numeral's `size` are in units of the picture; without a `tail` (None) there is no element for it.
    Each part begins a line of its own. Raises nothing. Source: none (drawing).

    >>> figure_at(5, 9, "74", 30, "mm").split("\\n")[1]
    '<tspan class="pic-sag" font-size="30" font-weight="700">74</tspan>'
    """
    parts = [f'<tspan class="pic-sag" font-size="{size:g}" font-weight="700">{plain(numeral)}</tspan>']
    if tail is not None:
        # Browsers take the line's end for a space, as CSS has it, others for nothing, as SVG 1.1: this makes it one.
        parts.append(f'<tspan class="pic-unit"> {plain(tail)}</tspan>')
    opening = words_at("figure", x, y, "").removesuffix("</text>")
    return "\n".join([opening, *parts, "</text>"])


def faint(kind: str) -> str:
    """Return the attribute that lets a grid line step back.

    `kind` names the class. Raises nothing. Source: none (drawing).

    >>> faint("axis")
    ''
    """
    return ' stroke-opacity="0.2"' if kind == "grid" else ""


def wrap(title: str, description: str, body: str, height: int, end: str, numbers: Mapping[str, float]) -> str:
    """Return the whole SVG with its title, its description and what a pointer's read-out needs.

    `title` and `description` are words, `body` the drawn elements as text, `height` is in units of the picture, `end`
    front or rear, `numbers` what the read-out needs by name. Raises nothing. Source: WAI-ARIA 1.2, from memory (the
    graphic's name and description).

    >>> wrap("Fork", "", "", 480, "front", {"x0": 14.0}).count('data-x0="14"')
    1
    """
    title, description = plain(title), plain(description)
    mark = hashlib.sha256((title + description + body).encode()).hexdigest()[:8]
    data = " ".join(f'data-{name}="{value:.6g}"' for name, value in numbers.items())
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="pic" role="img" viewBox="0 0 {WIDTH} {height}"'
        f' aria-labelledby="pic-t{mark}" aria-describedby="pic-d{mark}" data-end="{end}" {data}'
        f' font-family="DejaVu Sans, sans-serif">\n<title id="pic-t{mark}">{title}</title>\n'
        f'<desc id="pic-d{mark}">{description}</desc>\n{body}\n</svg>'
    )
