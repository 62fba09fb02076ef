"""The customers as a spreadsheet file: worked out, taken in, given out. A customer is known by the business's own code.

One who has none is given out as "#" and the row's id, and known again by that.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.utils.translation import gettext as _

from calc.bands import BANDS
from calc.refusal import Problem, Refusal
from setups import search
from setups.data.columns import Column, understand
from setups.data.plan import Plan, Step
from setups.models import Customer, Rider
from shops import trail
from shops.access import everywhere
from shops.models import AuditEntry, Shop
from shops.spreadsheet import Line, Table
from shops.trail import Actor

OWN = {"name": 120, "phone": 40, "email": 254, "notes": 4000}
COLUMNS = (
    Column("code", longest=40),
    *(Column(name, longest=longest) for name, longest in OWN.items()),
    Column("rider", longest=120),
    Column("mass_in_kit_kg", band=BANDS["person.mass_kg"], quantity="mass"),
)
_BY_ID = re.compile(r"#(\d{1,18})", re.ASCII)


def plan(shop: Shop, table: Table, *, lock: bool = False) -> Plan:
    """Work out what `table` would do to the customers of the shop's business; nothing is done.

    Raises Refusal where it is no such list. `lock` holds the customers for the rest of the transaction.
    """
    headings = understand(table, COLUMNS, ["code"])
    found = Plan("customers", table, headings.ignored)
    standing = _standing(shop, lock=lock)
    seen: dict[str, int] = {}
    for line in table.lines:
        values, problems = headings.values(table, line)
        code = values.pop("code", "")
        row = standing.get(code)
        problems += _nameless(code, row, seen, line)
        if problems:
            found.refuse(line.number, *problems)
            continue
        seen[code] = line.number
        try:
            found.steps.append(_step(code, row, values, line))
        except Refusal as refusal:
            found.refuse(line.number, *refusal.problems)
    return found


def _standing(shop: Shop, *, lock: bool = False) -> dict[str, Customer]:
    rows = everywhere(Customer, why="the customers of the business whose shop the caller holds")
    rows = rows.filter(business_id=shop.business_id, erased_at=None)
    found = list((rows.select_for_update() if lock else rows).prefetch_related("riders"))
    return {f"#{one.pk}": one for one in found} | {one.code: one for one in found if one.code}


def _nameless(code: str, row: Customer | None, seen: Mapping[str, int], line: Line) -> list[Problem]:
    if not code:
        if line.cells.get("code"):
            return []
        return [Problem("code", "blank", _("The code is blank: it is the business's own number for the customer."))]
    if code in seen:
        return [
            Problem(
                "code",
                "twice",
                _("{code} stands on line {seen} already: keep one of the two.").format(code=code, seen=seen[code]),
                code,
            )
        ]
    if row is None and _BY_ID.fullmatch(code):
        text = _("There is no customer {code}; a code of your own does not begin with #.").format(code=code)
        return [Problem("code", "unknown", text, code)]
    return []


def _step(code: str, row: Customer | None, values: dict[str, Any], line: Line) -> Step:
    own = {name: values[name] for name in OWN if name in values}
    _check_email(own)
    if row is None:
        if "name" not in own:
            raise Refusal(Problem("name", "blank", _("A new customer needs a name.")))
        rider = _rider(None, own["name"], values)
        return Step(line.number, "new", code, own["name"], {"code": code, **own, **rider}, {})
    before, after = trail.changes(row, own)
    rider = _rider(row, own.get("name", row.name), values)
    action = "changed" if after or rider else "same"
    return Step(line.number, action, code, row.name, {**after, **rider}, before, row)


def _check_email(own: Mapping[str, Any]) -> None:
    try:
        validate_email(own.get("email", "nobody@place.example"))
    except ValidationError:
        text = _("“{email}” is no e-mail address: it needs a name, an @ and a domain.").format(email=own["email"][:60])
        raise Refusal(Problem("email", "invalid", text, own["email"][:60])) from None


def _rider(row: Customer | None, name: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the line changes about a rider: the one it names, else the customer as the rider."""
    if "rider" not in values and "mass_in_kit_kg" not in values:
        return {}
    wanted = values.get("rider", name)
    there = _riders(row).get(wanted) if row else None
    if there is not None and values.get("mass_in_kit_kg", there.mass_in_kit_kg) == there.mass_in_kit_kg:
        return {}
    return {"rider": wanted, **({"mass_in_kit_kg": values["mass_in_kit_kg"]} if "mass_in_kit_kg" in values else {})}


def _riders(row: Customer) -> dict[str, Rider]:
    return {rider.name: rider for rider in row.riders.all()}


def take_in(actor: Actor, shop: Shop, steps: list[Step]) -> None:
    """Do the steps, with a line in the trail for every row; inside the caller's transaction."""
    lines: list[AuditEntry] = []
    fresh, altered = [], []
    for step in steps:
        own = {name: value for name, value in step.values.items() if name in {"code", *OWN}}
        if step.action == "new":
            fresh.append((Customer(business_id=shop.business_id, **own), step))
        elif step.action == "changed":
            altered.append((_altered(step.row, own), step))
            if own:
                lines.append(trail.line(actor, "change customer", step.row, step.before, own))
    Customer.objects.bulk_create([row for row, _ in fresh])
    Customer.objects.bulk_create(
        [row for row, _ in altered], update_conflicts=True, unique_fields=["id"], update_fields=[*OWN, "version"]
    )
    lines += [trail.line(actor, "add customer", row, None, {"code": row.code, "name": row.name}) for row, _ in fresh]
    lines += _take_riders(actor, [(row, step) for row, step in (*fresh, *altered) if "rider" in step.values])
    AuditEntry.objects.bulk_create(lines)
    search.keep_words_of_customers([row for row, _ in (*fresh, *altered)])


def _altered(row: Customer, own: Mapping[str, Any]) -> Customer:
    for name, value in own.items():
        setattr(row, name, value)
    row.version += 1
    return row


def _take_riders(actor: Actor, pairs: list[tuple[Customer, Step]]) -> list[AuditEntry]:
    fresh, altered = [], []
    for customer, step in pairs:
        mass = {"mass_in_kit_kg": step.values["mass_in_kit_kg"]} if "mass_in_kit_kg" in step.values else {}
        there = _riders(customer).get(step.values["rider"]) if step.action == "changed" else None
        if there is None:
            fresh.append(Rider(customer=customer, name=step.values["rider"], **mass))
        else:
            there.mass_in_kit_kg, there.version = mass["mass_in_kit_kg"], there.version + 1
            altered.append(there)
    Rider.objects.bulk_create(fresh)
    Rider.objects.bulk_create(
        altered, update_conflicts=True, unique_fields=["id"], update_fields=["mass_in_kit_kg", "version"]
    )
    added = [trail.line(actor, "add rider", one, None, {"customer": one.customer, "name": one.name}) for one in fresh]
    masses = {"mass_in_kit_kg": None}
    return [*added, *(trail.line(actor, "change rider", one, masses, masses) for one in altered)]


def header() -> list[str]:
    """Return the columns in the order in which they are given out."""
    return [column.name for column in COLUMNS]


def rows_of(shop: Shop) -> Iterator[list[Any]]:
    """Yield the business's customers, each with the first rider, as `plan` takes them back."""
    rows = everywhere(Customer, why="the customers of the business whose shop the caller holds")
    for row in rows.filter(business_id=shop.business_id, erased_at=None).prefetch_related("riders"):
        rider = next(iter(row.riders.all()), None)
        of_rider = [rider.name, rider.mass_in_kit_kg] if rider else [None, None]
        yield [row.code or f"#{row.pk}", *(getattr(row, name) for name in OWN), *of_rider]
