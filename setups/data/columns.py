"""What a column of a list may be called, and what its cells may hold: a cell is judged here, a row elsewhere."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from calc.bands import Band, wrong
from calc.refusal import Problem, Refusal
from calc.units import FACTORS
from shops.spreadsheet import Line, Table, refused

LONGEST_SHOWN = 60


@dataclass(frozen=True)
class Column:
    """One column: `name` as the API names the field, and what a cell may hold.

    A number with a `quantity` may also come as "base (unit)", say "rate (lbf/in)"; its value is then converted.
    `choices` maps every word that is understood to the value it means.
    """

    name: str
    longest: int = 0
    band: Band | None = None
    quantity: str = ""
    whole: bool = False
    choices: Mapping[str, str] = field(default_factory=dict)

    def names(self) -> dict[str, float]:
        """Return every heading that means this column, with the factor to the metric value."""
        found = {self.name: 1.0}
        if self.quantity:
            base = re.sub(r"_(n_per_mm|mm|kg|cm3|g)$", "", self.name)
            for unit, factor in FACTORS[self.quantity].items():
                found[f"{base}_({unit.lower()})".replace(" ", "_")] = factor
        return found

    def read(self, table: Table, text: str, factor: float) -> Any:
        """Return the value of a cell that is not blank; raises Refusal with what is wrong with it."""
        if self.choices:
            return self._choice(text)
        if self.band is None:
            if len(text) > self.longest:
                shown = text[:LONGEST_SHOWN]
                raise cell(
                    "too_long",
                    self.name,
                    _("{count} characters; {longest} fit.").format(count=len(text), longest=self.longest),
                    shown,
                )
            return text
        return self._number(table, text, factor, self.band)

    def _choice(self, text: str) -> str:
        value = self.choices.get(text.strip().lower())
        if value is None:
            known = ", ".join(dict.fromkeys(self.choices))
            words = _("“{read}” is none of: {known}.").format(read=text[:LONGEST_SHOWN], known=known)
            raise cell("unknown_choice", self.name, words, text[:LONGEST_SHOWN])
        return value

    def _number(self, table: Table, text: str, factor: float, band: Band) -> float | int:
        shown = text[:LONGEST_SHOWN]
        if table.doubtful(text):
            one, other = re.sub("[.,]", ".", shown).rstrip("0").rstrip("."), re.sub("[.,]", "", shown)
            words = _(
                "“{shown}” may be {one} or {other}, and no other number of the file shows which: write it plainly."
            ).format(shown=shown, one=one, other=other)
            raise cell("doubtful", self.name, words, shown, band)
        value = table.number(text)
        if value is None:
            words = _("“{shown}” for {what} is no number ({band}): write digits, like 4.6, and no unit.").format(
                shown=shown, what=band.named, band=band.wording()
            )
            raise cell("not_a_number", self.name, words, shown, band)
        if self.whole and value != int(value):
            raise cell(
                "not_whole",
                self.name,
                _("{shown} for {what} is no whole number.").format(shown=shown, what=band.named),
                shown,
                band,
            )
        metric = value * factor
        if not band.holds(metric):
            read = _(" ({shown} as read)").format(shown=shown) if factor != 1 else ""
            raise cell("out_of_band", self.name, wrong(metric, band).rstrip(".?") + read + ".", shown, band)
        return int(metric) if self.whole else metric


def cell(code: str, column: str, text: str, read: Any = None, band: Band | None = None) -> Refusal:
    """Return the refusal of one cell."""
    if band is None:
        return Refusal(Problem(column, code, text, read))
    return Refusal(Problem(column, code, text, read, band.unit or None, band.low, band.high))


@dataclass(frozen=True)
class Headings:
    """A file's headings understood: column and factor by heading, and the headings that mean nothing here."""

    known: Mapping[str, tuple[Column, float]]
    ignored: list[str]

    def values(self, table: Table, line: Line) -> tuple[dict[str, Any], list[Problem]]:
        """Return the values of a line's cells that are not blank, by field, and what is wrong with the others."""
        values: dict[str, Any] = {}
        problems: list[Problem] = []
        for heading, (column, factor) in self.known.items():
            text = line.cells.get(heading, "")
            if not text:
                continue
            try:
                values[column.name] = column.read(table, text, factor)
            except Refusal as refusal:
                problems += refusal.problems
        return values, problems


def understand(table: Table, columns: Sequence[Column], needed: Sequence[str]) -> Headings:
    """Return the headings of `table`; raises Refusal where a needed one is missing or one is there in two units."""
    names = {name: (column, factor) for column in columns for name, factor in column.names().items()}
    known = {heading: names[heading] for heading in table.header if heading in names}
    there = [column.name for column, _ in known.values()]
    missing = [name for name in needed if name not in there]
    if missing:
        seen = ", ".join(name for name in table.header if name)[:200]
        text = _("The first line names no column “{missing}”. It was read as: {seen}. Separator: {separator}.").format(
            missing=missing[0], seen=seen, separator=_(table.separator)
        )
        raise refused("no_column", text, seen)
    twice = next((name for name in there if there.count(name) > 1), None)
    if twice:
        raise refused(
            "twice", _("The column “{twice}” comes twice, in two units: keep one.").format(twice=twice), twice
        )
    return Headings(known, [name for name in table.header if name and name not in names])
