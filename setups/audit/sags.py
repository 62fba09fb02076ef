"""Predicted against measured sag, by shop and model of bike.

Nobody adds up a million rows for a page: the groups come from the totals that are kept, and what some days hold is
added up for the page's groups alone, from the sums of the whole months and the rows of the days about them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, time
from typing import Any

from django.db.models import F, OuterRef, Q, QuerySet, Sum
from django.utils.translation import gettext_lazy as _

from calc.learned import of_moments
from setups.audit.asked import Asked
from setups.audit.row import Row, blank
from setups.learned import shown
from setups.models import BuiltSag, SagMonth, SagTotal
from setups.sag_totals import SUMS, month_of, summed
from shops.access import rows
from shops.each_row import has_any

COLUMNS: Mapping[str, Any] = {
    "shop_name": _("Shop"),
    "bike": _("Bike"),
    "end": _("End"),
    "sag": _("Sag"),
    "cards": _("Cards"),
    "mean_mm": _("Mean difference, mm"),
    "spread_mm": _("Spread, mm"),
    "u_mm": _("Uncertainty of the mean, mm"),
    "expanded_mm": _("95 % interval, ± mm"),
}
GROUP = ("shop", "model_key", "end", "sag")

Sums = dict[str, float]
Span = tuple[datetime | None, datetime | None]
"""From a moment to one before which it ends; None: no limit there."""


def find(asked: Asked) -> QuerySet[Any]:
    """Find the totals of the sealed cards' sags, by shop, model, end and sag; of some days those with a card then."""
    found = rows(SagTotal, asked.person).filter(cards__gt=0)
    if asked.shop is not None:
        found = found.filter(shop=asked.shop)
    if asked.span != (None, None):
        found = found.filter(has_any(_counted(asked).filter(**{name: OuterRef(name) for name in GROUP})))
    told = found.values(*GROUP, *SUMS, "make", "model", "first", "shop__name", mark=F("id"))
    return told.order_by("shop__name", "model_key", "end", "sag", "shop")


def _counted(asked: Asked) -> Any:
    return rows(BuiltSag, asked.person).filter(left_out="", **asked.within("sealed_at", "shop"))


def tell(asked: Asked, found: Sequence[Mapping[str, Any]]) -> list[Row]:
    """Return each group's statistics."""
    if asked.span == (None, None):
        return [_row(one, {name: one[name] for name in SUMS}) for one in found]
    sums = _of_days(asked, found)
    return [_row(one, sums[one["mark"]]) for one in found if sums[one["mark"]]["cards"]]


def _of_days(asked: Asked, found: Sequence[Mapping[str, Any]]) -> dict[int, Sums]:
    """Return what the days asked for hold of each group, by its mark."""
    sums: dict[int, Sums] = {one["mark"]: dict.fromkeys(SUMS, 0.0) for one in found}
    whole, rest = _months(*asked.span)
    months: Any = rows(SagMonth, asked.person).filter(whole, total__in=sums).order_by()
    for one in months.values("total").annotate(**{f"all_{name}": Sum(name) for name in SUMS}):
        _add(sums[one["total"]], (one[f"all_{name}"] for name in SUMS))
    marks = {tuple(one[name] for name in GROUP): one["mark"] for one in found}
    models = {one["model_key"] for one in found}
    for since, until in rest:
        days = {f"sealed_at__{way}": at for way, at in (("gte", since), ("lt", until)) if at is not None}
        counted = _counted(asked).filter(model_key__in=models, **days).order_by()
        for one in counted.values(*GROUP).annotate(**summed()):
            mark = marks.get(tuple(one[name] for name in GROUP))
            if mark is not None:
                _add(sums[mark], (one[name] for name in SUMS))
    return sums


def _months(since: datetime | None, until: datetime | None) -> tuple[Q, list[Span]]:
    """Return which months lie wholly between two moments, and the spans that are left of the months at both ends."""
    first = None if since is None else _month_from(since)
    last = None if until is None else month_of(until)
    if first is not None and last is not None and first > last:
        return Q(pk__in=()), [(since, until)]
    whole, rest = Q(), list[Span]()
    if first is not None:
        whole &= Q(month__gte=first)
        rest.append((since, _begin(first)))
    if last is not None:
        whole &= Q(month__lt=last)
        rest.append((_begin(last), until))
    return whole, rest


def _month_from(moment: datetime) -> date:
    """Return the first month that does not begin before the moment."""
    month = month_of(moment)
    if _begin(month) == moment:
        return month
    return date(month.year + month.month // 12, month.month % 12 + 1, 1)


def _begin(month: date) -> datetime:
    return datetime.combine(month, time(), UTC)


def _add(sums: Sums, more: Iterable[float]) -> None:
    for name, value in zip(SUMS, more, strict=True):
        sums[name] += value


def _row(one: Mapping[str, Any], sums: Mapping[str, float]) -> Row:
    count = int(sums["cards"])
    mean = sums["sum_mm"] / count
    found = of_moments(count, mean, _spread(count, mean, sums["squares_mm2"]), sums["u_squares_mm2"])
    figures = {**shown(found), "end": one["end"], "sag": one["sag"]}
    bike = f"{one['make']} {one['model']}"
    return {**blank(one["first"]), "shop_name": one["shop__name"], "bike": bike, "figures": figures}


def _spread(count: int, mean: float, squares: float) -> float | None:
    """Return the sample standard deviation; a single card has none."""
    return None if count < 2 else math.sqrt(max(squares - count * mean**2, 0.0) / (count - 1))
