"""Taking a whole list in from a spreadsheet file: all of it or nothing, and only as it was shown before."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from calc.refusal import Problem, Refusal
from setups.data import customers_in, springs_in
from setups.data.plan import MOST_SHOWN, Plan, Step
from shops import trail
from shops.access import everywhere, rows_to_change
from shops.models import Shop
from shops.refusals import blocked, forbidden
from shops.spreadsheet import Table
from shops.trail import Actor


@dataclass(frozen=True)
class List:
    """A kind of list: how it is worked out, taken in and given out."""

    plan: Callable[..., Plan]
    take_in: Callable[[Actor, Shop, list[Step]], None]
    header: Callable[[], list[str]]
    rows_of: Callable[[Shop], Any]


LISTS: Mapping[str, List] = {
    "springs": List(springs_in.plan, springs_in.take_in, springs_in.header, springs_in.rows_of),
    "customers": List(customers_in.plan, customers_in.take_in, customers_in.header, customers_in.rows_of),
}


def look(actor: Actor, what: str, shop: Shop, table: Table) -> Plan:
    """Return what `take_list_in` would do with `table`, and every reason against it; nothing is done."""
    _require_own_shop(actor, shop)
    return LISTS[what].plan(shop, table)


@transaction.atomic
def take_list_in(actor: Actor, what: str, shop: Shop, table: Table, *, plan: str) -> Plan:
    """Take a list ("springs", "customers") in as the plan with the digest `plan` showed it; return what was done.

    Raises Refusal with every row that is wrong, and Blocked where what stands has changed since it was shown. A file
    taken in twice changes nothing the second time.
    """
    _require_own_shop(actor, shop)
    everywhere(Shop, why="a shop already held: two lists are taken in one after the other").select_for_update().get(
        pk=shop.pk
    )
    found = LISTS[what].plan(shop, table, lock=True)
    if found.problems:
        raise Refusal(*(_named(line, one) for line, one in found.problems[:MOST_SHOWN]))
    if found.digest() != plan:
        raise blocked("changed_meanwhile", _("The list has changed since it was looked at: look at the file again."))
    LISTS[what].take_in(actor, shop, found.steps)
    counts = {action: found.count(action) for action in ("new", "changed", "same")}
    trail.record(actor, "take list in", shop, None, {"list": what, **counts})
    return found


def _named(line: int, one: Problem) -> Problem:
    return Problem(
        f"{line}.{one.field}",
        one.code,
        _("Line {line}: {text}").format(line=line, text=one.text),
        one.value,
        one.unit,
        one.low,
        one.high,
    )


def _require_own_shop(actor: Actor, shop: Shop) -> None:
    if not rows_to_change(Shop, actor.person).filter(pk=shop.pk).exists():
        raise forbidden(
            "other_shop", _("{shop} is not your shop: only its own people change things there.").format(shop=shop.name)
        )
