"""Predicted against measured sag, by shop and model of bike."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import Avg, Count, F, FloatField, Max, Min, QuerySet, Sum
from django.utils.translation import gettext_lazy as _

from calc.learned import of_moments
from setups.audit.asked import Asked
from setups.audit.row import Row, blank
from setups.learned import shown
from setups.models import BuiltSag, SagTotal
from shops.access import rows

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
GROUP = ("shop", "shop__name", "model_key", "end", "sag")


def find(asked: Asked) -> QuerySet[Any]:
    """Find the sealed cards' sags grouped by shop, model, end and sag: of all days from the totals that are kept, of
    some days from the rows.
    """
    if asked.since is None and asked.until is None:
        found: QuerySet[Any] = _totals(asked)
    else:
        found = _of_days(asked)
    return found.order_by("shop__name", "model_key", "end", "sag", "shop")


def _totals(asked: Asked) -> QuerySet[Any]:
    kept = rows(SagTotal, asked.person).filter(cards__gt=0, **asked.within("", "shop"))
    return kept.values(
        *GROUP, "cards", "first", mark=F("id"), mean=F("sum_mm") / F("cards"), squares=F("squares_mm2"),
        sum_u2=F("u_squares_mm2"), make_name=F("make"), model_name=F("model"),
    )  # fmt: skip


def _of_days(asked: Asked) -> QuerySet[Any]:
    counted = rows(BuiltSag, asked.person).filter(left_out="", **asked.within("sealed_at", "shop"))
    return (
        counted.order_by()
        .values(*GROUP)
        .annotate(
            cards=Count("id"),
            mean=Avg("difference_mm"),
            squares=Sum(F("difference_mm") * F("difference_mm"), output_field=FloatField()),
            sum_u2=Sum(F("u_mm") * F("u_mm"), output_field=FloatField()),
            make_name=Max("make"),
            model_name=Max("model"),
            first=Min("id"),
            mark=Min("id"),
        )
    )


def tell(asked: Asked, found: Sequence[Mapping[str, Any]]) -> list[Row]:
    """Return each group's statistics."""
    return [_row(one) for one in found]


def _spread(count: int, mean: float, squares: float) -> float | None:
    """Return the sample standard deviation; SQLite's own refuses a single row."""
    return None if count < 2 else math.sqrt(max(squares - count * mean**2, 0.0) / (count - 1))


def _row(one: Mapping[str, Any]) -> Row:
    found = of_moments(one["cards"], one["mean"], _spread(one["cards"], one["mean"], one["squares"]), one["sum_u2"])
    figures = {**shown(found), "end": one["end"], "sag": one["sag"]}
    bike = f"{one['make_name']} {one['model_name']}"
    return {**blank(one["first"]), "shop_name": one["shop__name"], "bike": bike, "figures": figures}
