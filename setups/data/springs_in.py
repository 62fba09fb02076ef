"""The spring list as a spreadsheet file: worked out, taken in, given out. A line is known by code and batch."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django.utils.translation import gettext as _

from calc.bands import Band
from calc.checks import SPRING_FIELDS
from calc.refusal import Problem, Refusal
from calc.words import mark
from setups.data.columns import Column, understand
from setups.data.plan import Plan, Step
from shops import trail
from shops.access import everywhere
from shops.models import AuditEntry, Shop, StockSpring
from shops.spreadsheet import Line, Table
from shops.trail import Actor
from shops.verbs import MEASURES, check_stock_spring, sort_rate

MOST_STOCK = 9999
_ENDS = {"front": "front", "fork": "front", "rear": "rear", "shock": "rear"}
_WIDE = {
    "rate": Band(mark("the rate"), "N/mm", 0, 1000, open_low=True),
    "length": Band(mark("the length"), "mm", 0, 1000),
}
CURVE = (*dict.fromkeys(name for names in SPRING_FIELDS.values() for name in names), "solid_deflection_mm")
TEXTS = {"label": 120, "material": 40}
COLUMNS = (
    Column("code", longest=40),
    Column("batch", longest=40),
    Column("end", choices=_ENDS),
    Column("kind", choices={kind: kind for kind in SPRING_FIELDS}),
    *(Column(name, band=_WIDE["rate" if "per_mm" in name else "length"],
             quantity="rate" if "per_mm" in name else "length") for name in CURVE),
    *(Column(name, longest=longest) for name, longest in TEXTS.items()),
    *(Column(name, band=band, quantity={"mm": "length", "cm³": "volume"}.get(band.unit, ""))
      for name, band in MEASURES.items()),
    Column("stock", band=Band(mark("the number on the shelf"), "", 0, MOST_STOCK), whole=True),
)  # fmt: skip
"""What the bands here let through is judged again by end and kind, as for a spring that is typed in."""
PLAIN = (*TEXTS, *MEASURES, "stock")


def plan(shop: Shop, table: Table, *, lock: bool = False) -> Plan:
    """Work out what `table` would do to the shop's list; nothing is done. Raises Refusal where it is no such list.

    `lock` holds the list for the rest of the transaction: what is worked out then is what will be done.
    """
    headings = understand(table, COLUMNS, ["code"])
    found = Plan("springs", table, headings.ignored)
    standing = {(one.code, one.batch): one for one in _list(shop, lock=lock)}
    seen: dict[tuple[str, str], int] = {}
    for line in table.lines:
        values, problems = headings.values(table, line)
        key = (values.pop("code", ""), values.pop("batch", ""))
        problems += _nameless(key, seen, line)
        if problems:
            found.refuse(line.number, *problems)
            continue
        seen[key] = line.number
        row = standing.get(key)
        try:
            found.steps.append(_step(shop, key, row, values, line))
        except Refusal as refusal:
            found.refuse(line.number, *refusal.problems)
    return found


def _list(shop: Shop, *, lock: bool = False) -> list[StockSpring]:
    rows = everywhere(StockSpring, why="the list of a shop that the caller holds").filter(shop=shop)
    rows = rows.select_related("shop")
    return list(rows.select_for_update(of=("self",)) if lock else rows)


def _nameless(key: tuple[str, str], seen: Mapping[tuple[str, str], int], line: Line) -> list[Problem]:
    if not key[0]:
        if line.cells.get("code"):
            return []  # refused already, for what stands there
        return [Problem("code", "blank", _("The code is blank: it says which spring the line is about."))]
    if key in seen:
        named = _("{code}, batch {batch},").format(code=key[0], batch=key[1]) if key[1] else key[0]
        return [
            Problem(
                "code",
                "twice",
                _("{named} stands on line {seen} already: keep one of the two.").format(named=named, seen=seen[key]),
                key[0],
            )
        ]
    return []


def _step(shop: Shop, key: tuple[str, str], row: StockSpring | None, values: dict[str, Any], line: Line) -> Step:
    code, batch = key
    wanted = {name: values[name] for name in PLAIN if name in values}
    curve = _curve(row, values)
    if curve is not None:
        wanted["spring"] = curve
    if row is None:
        wanted = {"end": _end(values), "label": code, **wanted}
        check_stock_spring(StockSpring(shop=shop, code=code, **wanted), {})
        return Step(line.number, "new", _key(key), wanted["label"], {**wanted, "code": code, "batch": batch}, {})
    if values.get("end", row.end) != row.end:
        text = _("{code} stands on the list for the {end}; a spring does not change its end.").format(
            code=code, end=row.get_end_display()
        )
        raise Refusal(Problem("end", "other_end", text, line.cells.get("end")))
    before, after = trail.changes(row, wanted)
    check_stock_spring(row, after)
    return Step(line.number, "changed" if after else "same", _key(key), row.label, after, before, row)


def _key(key: tuple[str, str]) -> str:
    return _("{code}, batch {batch}").format(code=key[0], batch=key[1]) if key[1] else key[0]


def _end(values: Mapping[str, Any]) -> str:
    if "end" not in values:
        raise Refusal(Problem("end", "blank", _("A new spring needs its end: fork or shock.")))
    return str(values["end"])


def _curve(row: StockSpring | None, values: Mapping[str, Any]) -> dict[str, Any] | None:
    """Return the spring as calc takes it, None where the line says nothing about it."""
    given = {name: values[name] for name in CURVE if name in values}
    if row is not None and not given and "kind" not in values:
        return None
    old: dict[str, Any] = dict(row.spring) if row is not None else {}
    kind = values.get("kind", old.get("kind", "straight"))
    fields = (*SPRING_FIELDS.get(kind, ()), "solid_deflection_mm")
    foreign = next((name for name in given if name not in fields), None)
    if foreign:
        text = _("A {kind} spring has no {foreign}: clear the cell, or name another kind.").format(
            kind=kind, foreign=foreign
        )
        raise Refusal(Problem(foreign, "other_kind", text, given[foreign]))
    kept = {name: value for name, value in old.items() if name in fields}
    return {**kept, "kind": kind, **given}


def take_in(actor: Actor, shop: Shop, steps: list[Step]) -> None:
    """Do the steps, with a line in the trail for every row; inside the caller's transaction."""
    lines: list[AuditEntry] = []
    fresh = [(StockSpring(shop=shop, **step.values), step) for step in steps if step.action == "new"]
    for row, _of in fresh:
        row.sort_rate_n_per_mm = sort_rate(row.spring)
    StockSpring.objects.bulk_create([row for row, _ in fresh])
    lines += [trail.line(actor, "add spring", row, None, step.values) for row, step in fresh]
    altered = [step for step in steps if step.action == "changed"]
    for step in altered:
        for name, value in step.values.items():
            setattr(step.row, name, value)
        step.row.sort_rate_n_per_mm = sort_rate(step.row.spring)
        step.row.version += 1
        lines.append(trail.line(actor, "change spring", step.row, step.before, step.values))
    fields = [*PLAIN, "spring", "sort_rate_n_per_mm", "version"]
    StockSpring.objects.bulk_create(
        [step.row for step in altered], update_conflicts=True, unique_fields=["id"], update_fields=fields
    )
    AuditEntry.objects.bulk_create(lines)


def header() -> list[str]:
    """Return the columns in the order in which they are given out."""
    return [column.name for column in COLUMNS]


def rows_of(shop: Shop) -> Iterator[list[Any]]:
    """Yield the shop's list, as `plan` takes it back."""
    for row in _list(shop):
        spring = row.spring
        yield [spring.get(name) if name in (*CURVE, "kind") else getattr(row, name) for name in header()]
