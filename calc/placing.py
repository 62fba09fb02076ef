"""Where words go in a picture: every label finds the free place nearest to the line that it names.

Source: [1] the widths of DejaVu Sans, measured on its glyphs: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

CELL = 4.0
"""Side of one cell of the occupancy grid, in units of the picture; a label moves in steps of this size."""

_SHORT_LIST = 150
"""How many of the best places are looked at closely."""

_NARROW = {**dict.fromkeys("ijl|.,:;'!", 0.33), **dict.fromkeys("ftr-()/ ", 0.42)}
_WIDE = {**dict.fromkeys("mwMW%@", 0.98), **dict.fromkeys("0123456789", 0.64)}
_EM = {**_NARROW, **_WIDE}


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return a width that `text` set at `size` will not exceed, in the units of `size`.

    Widths are those of a wide open sans-serif (DejaVu Sans), so that narrower faces fit too. Scripts that
    the table does not know are taken as one em a character.

    `text` is any string, `size` is in units of the picture, `bold` widens by a tenth. Raises nothing. Source: [1].

    >>> round(text_width("100", 20), 1)
    38.4
    """
    ems = sum(_EM.get(char, 0.78 if char.isupper() else 0.65 if ord(char) < 0x500 else 1.0) for char in text)
    return ems * size * (1.1 if bold else 1.0)


def fit_text(text: str, size: float, width: float) -> str:
    """Return `text`, shortened with an ellipsis where it would exceed `width`, empty where no letter fits.

    `size` and `width` are in units of the picture. Raises nothing. Source: [1].

    >>> fit_text("as received", 20, 500)
    'as received'
    >>> fit_text("as received", 20, 90)
    'as rec…'
    """
    if text_width(text, size) <= width:
        return text
    while text and text_width(text + "…", size) > width:
        text = text[:-1]
    return text.rstrip() + "…" if text else ""


@dataclass(frozen=True)
class Box:
    """An upright rectangle: left `x`, top `y`, width `w` and height `h`, all in units of the picture, y downwards.

    Raises nothing. Source: none (drawing).

    >>> Box(0, 0, 10, 10).meets(Box(11, 0, 5, 5)), Box(0, 0, 10, 10).meets(Box(11, 0, 5, 5), 2.0)
    (False, True)
    """

    x: float
    y: float
    w: float
    h: float

    def meets(self, other: Box, margin: float = 0.0) -> bool:
        """Say whether the two rectangles come closer than `margin`.

        `other` is a box; `margin` is in units of the picture.
        """
        return (
            self.x < other.x + other.w + margin
            and other.x < self.x + self.w + margin
            and self.y < other.y + other.h + margin
            and other.y < self.y + self.h + margin
        )


@dataclass(frozen=True)
class Place:
    """A label's `box`; `touch` is the nearest point of its line and `distance` how far that is, in units of the
    picture.

    `crowded` says that it lies over something, `unclear` that it could be taken to name another line. Source: none
    (drawing).

    >>> Place(Box(0, 0, 10, 10), (20.0, 5.0), 10.0, crowded=False, unclear=False).start
    (10, 5.0)
    """

    box: Box
    touch: tuple[float, float]
    distance: float
    crowded: bool
    unclear: bool

    @property
    def start(self) -> tuple[float, float]:
        """Return the point of the box nearest to `touch`."""
        box, (x, y) = self.box, self.touch
        return min(max(x, box.x), box.x + box.w), min(max(y, box.y), box.y + box.h)


def stay(box: Box, line: NDArray[np.float64]) -> Place:
    """Return the place of a label that stays in `box` while the line that it names moves.

    `line` has shape (points, 2), in units of the picture. Raises nothing. Source: none (drawing).

    >>> stay(Box(0, 0, 10, 10), np.array([[20.0, 5.0], [20.0, 90.0]])).distance
    10.0
    """
    x, y = touch = _touch(box, line)
    left, top = min(max(x, box.x), box.x + box.w), min(max(y, box.y), box.y + box.h)
    return Place(box, touch, float(np.hypot(x - left, y - top)), crowded=False, unclear=False)


class Sheet:
    """A picture's area with what is already drawn on it, and the search for free room.

    Lengths are in units of the picture. Lines are arrays of shape (points, 2).

    A `line` has shape (points, 2), a label's `w` and `h` and every `box` are in units of the picture. Raises
    ValueError where the area holds no place. Source: none (drawing).

    >>> sheet = Sheet(Box(0, 0, 200, 100))
    >>> line = np.array([[0.0, 90.0], [200.0, 90.0]])
    >>> sheet.mark_line(line)
    >>> sheet.place(40, 20, line).crowded
    False
    """

    def __init__(self, area: Box) -> None:
        """Start with an empty area."""
        self.area = area
        self._labels: list[Box] = []
        self._taken = np.zeros((int(np.ceil(area.h / CELL)) + 1, int(np.ceil(area.w / CELL)) + 1), dtype=bool)

    def mark_line(self, line: NDArray[np.float64]) -> None:
        """Take the cells that a line passes through."""
        points = dense(line, CELL / 2)
        rows = ((points[:, 1] - self.area.y) // CELL).astype(int)
        columns = ((points[:, 0] - self.area.x) // CELL).astype(int)
        inside = (rows >= 0) & (rows < self._taken.shape[0]) & (columns >= 0) & (columns < self._taken.shape[1])
        self._taken[rows[inside], columns[inside]] = True

    def mark_box(self, box: Box) -> None:
        """Take the cells under a rectangle."""
        top, left = (box.y - self.area.y) / CELL, (box.x - self.area.x) / CELL
        bottom, right = top + box.h / CELL, left + box.w / CELL
        rows = slice(max(0, int(top)), max(0, int(np.ceil(bottom))))
        self._taken[rows, max(0, int(left)) : max(0, int(np.ceil(right)))] = True

    def place(self, w: float, h: float, line: NDArray[np.float64], others: Sequence[NDArray[np.float64]] = ()) -> Place:
        """Find room for a label of `w` by `h` beside `line`, and take it.

        Every place on the grid is weighed: the nearest to `line` wins, a place nearer to one of `others`
        (lines that the label could be mistaken to name) is worth less, so is one whose leader would run
        through another label, and one over drawn cells is taken only where none is free.

        `w` and `h` are in units of the picture, `line` and each of `others` have shape (points, 2).
        """
        lefts = np.arange(self.area.x, self.area.x + self.area.w - w + 0.01, 1.5 * CELL)
        tops = np.arange(self.area.y, self.area.y + self.area.h - h + 0.01, 1.5 * CELL)
        if not lefts.size or not tops.size:
            lefts, tops = np.array([self.area.x]), np.array([self.area.y])
        covered = self._covered(lefts, tops, w, h)
        own = _distance(lefts, tops, w, h, line)
        unclear = np.zeros_like(own)
        for other in others:
            unclear = np.maximum(unclear, own + 6.0 - _distance(lefts, tops, w, h, other))
        # Ties go left, so that stacked words align.
        cost = own + 4.0 * unclear + 60.0 * covered + 0.02 * (lefts - self.area.x)
        best, place = np.inf, None
        for index in np.argsort(cost, axis=None)[:_SHORT_LIST]:
            row, column = np.unravel_index(index, cost.shape)
            if place and cost[row, column] >= best:
                break
            box = Box(float(lefts[column]), float(tops[row]), w, h)
            tried = Place(
                box,
                _touch(box, line),
                float(own[row, column]),
                crowded=bool(covered[row, column]),
                unclear=bool(unclear[row, column] > 3.0),
            )
            weight = float(cost[row, column]) + 80.0 * self._crossed(tried)
            if place is None or weight < best:
                best, place = weight, tried
        if place is None:
            raise ValueError("A label's area holds no place at all.")
        self._labels.append(place.box)
        self.mark_box(place.box)
        return place

    def _crossed(self, place: Place) -> int:
        """Count the labels already placed that a label's leader would run through."""
        leader = np.array([place.start, place.touch])
        return sum(any(box.meets(Box(x, y, 0.0, 0.0), 2.0) for x, y in dense(leader, 2 * CELL)) for box in self._labels)

    def _covered(
        self, lefts: NDArray[np.float64], tops: NDArray[np.float64], w: float, h: float
    ) -> NDArray[np.float64]:
        """Count the taken cells under a w × h box at every (top, left)."""
        total = np.pad(self._taken.astype(float).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
        limit_y, limit_x = self._taken.shape
        row0 = ((tops - self.area.y) / CELL).astype(int)
        column0 = ((lefts - self.area.x) / CELL).astype(int)
        row1 = np.minimum(limit_y, row0 + int(np.ceil(h / CELL)))[:, None]
        column1 = np.minimum(limit_x, column0 + int(np.ceil(w / CELL)))[None, :]
        covered: NDArray[np.float64] = (
            total[row1, column1]
            - total[row0[:, None], column1]
            - total[row1, column0[None, :]]
            + total[row0[:, None], column0[None, :]]
        )
        return covered


def dense(line: NDArray[np.float64], step: float) -> NDArray[np.float64]:
    """Return a line's points with more put between, none further apart than about `step`.

    `line` has shape (points, 2). Raises nothing. Source: elementary geometry.

    >>> dense(np.array([[0.0, 0.0], [4.0, 0.0]]), 2.0)[:, 0].tolist()
    [0.0, 2.0, 4.0]
    """
    length = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    at = np.linspace(0.0, length[-1], max(2, int(np.ceil(length[-1] / step)) + 1))
    return np.column_stack((np.interp(at, length, line[:, 0]), np.interp(at, length, line[:, 1])))


def _distance(
    lefts: NDArray[np.float64], tops: NDArray[np.float64], w: float, h: float, line: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how far each box, by (top, left), lies from a line."""
    points = dense(line, 12.0)
    beside = np.maximum(0.0, np.maximum(lefts[:, None] - points[:, 0], points[:, 0] - lefts[:, None] - w))
    above = np.maximum(0.0, np.maximum(tops[:, None] - points[:, 1], points[:, 1] - tops[:, None] - h))
    distance: NDArray[np.float64] = np.sqrt((beside[None, :, :] ** 2 + above[:, None, :] ** 2).min(axis=2))
    return distance


def _touch(box: Box, line: NDArray[np.float64]) -> tuple[float, float]:
    """Return the point of a line nearest to a box."""
    points = dense(line, CELL)
    beside = np.maximum(0.0, np.maximum(box.x - points[:, 0], points[:, 0] - box.x - box.w))
    above = np.maximum(0.0, np.maximum(box.y - points[:, 1], points[:, 1] - box.y - box.h))
    nearest = points[int(np.argmin(beside**2 + above**2))]
    return float(nearest[0]), float(nearest[1])
