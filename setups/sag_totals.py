"""Keeps `SagTotal` and `SagMonth` up to the counted `BuiltSag` rows: the sums from which mean, spread and uncertainty
follow, of all days and of each month.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Count, DateField, F, FloatField, Max, Min, Sum
from django.db.models.functions import TruncMonth

from setups.models import BuiltSag, JobCard, SagMonth, SagTotal
from shops.access import everywhere
from shops.models import Shop

SUMS = ("cards", "sum_mm", "squares_mm2", "u_squares_mm2")
_WHY = "the totals of rows already held"


def month_of(moment: datetime) -> date:
    """Return the first day of the month that a moment falls in, in UTC, whatever the shop's own time zone."""
    return moment.astimezone(UTC).date().replace(day=1)


def summed() -> dict[str, Any]:
    """Return what adds `BuiltSag` rows up, as annotations named as in `SUMS`."""
    return {
        "cards": Count("id"),
        "sum_mm": Sum("difference_mm"),
        "squares_mm2": _squares("difference_mm"),
        "u_squares_mm2": _squares("u_mm"),
    }


def _squares(name: str) -> Sum:
    return Sum(F(name) * F(name), output_field=FloatField())


@transaction.atomic
def add(found: Iterable[BuiltSag], *, sign: int = 1) -> None:
    """Add rows to their totals, or with sign -1 take them away again."""
    for one in sorted(found, key=_group):
        total, _ = everywhere(SagTotal, why=_WHY).get_or_create(
            shop_id=one.shop_id, model_key=one.model_key, end=one.end, sag=one.sag,
            defaults={"business_id": one.business_id, "make": one.make, "model": one.model, "first": one.pk},
        )  # fmt: skip
        month, _ = everywhere(SagMonth, why=_WHY).get_or_create(total=total, month=month_of(one.sealed_at))
        adds = (1, one.difference_mm, one.difference_mm**2, one.u_mm**2)
        summed_up = {name: F(name) + sign * value for name, value in zip(SUMS, adds, strict=True)}
        for row in (total, month):
            everywhere(type(row), why=_WHY).filter(pk=row.pk).update(**summed_up)


@transaction.atomic
def count_again(shop: Shop) -> None:
    """Add a shop's totals up afresh from all its rows, such as after rows were written in bulk."""
    everywhere(SagTotal, why=_WHY).filter(shop=shop).delete()
    counted = everywhere(BuiltSag, why=_WHY).filter(shop=shop, left_out="").order_by()
    by_month = TruncMonth("sealed_at", output_field=DateField(), tzinfo=UTC)
    groups: Any = counted.values("model_key", "end", "sag", month=by_month).annotate(
        make_name=Max("make"), model_name=Max("model"), first=Min("id"), **summed()
    )
    totals: dict[tuple[str, str, str], SagTotal] = {}
    months: list[SagMonth] = []
    for one in groups:
        key = one["model_key"], one["end"], one["sag"]
        if key not in totals:
            totals[key] = SagTotal(
                business_id=shop.business_id, shop=shop, model_key=key[0], end=key[1], sag=key[2],
                make=one["make_name"], model=one["model_name"], first=one["first"],
            )  # fmt: skip
        total, sums = totals[key], {name: one[name] for name in SUMS}
        total.first = min(total.first, one["first"])
        _add_up(total, sums)
        months.append(SagMonth(total=total, month=one["month"], **sums))
    SagTotal.objects.bulk_create(totals.values())
    SagMonth.objects.bulk_create(months, batch_size=5000)


def _add_up(total: SagTotal, sums: Mapping[str, Any]) -> None:
    for name, value in sums.items():
        setattr(total, name, getattr(total, name) + value)


def learn(built: Iterable[BuiltSag]) -> None:
    """Save the rows that a sealed card teaches, and count them; part of sealing."""
    add(BuiltSag.objects.bulk_create(built))


def leave_out(card: JobCard, why: str) -> None:
    """Count no sag of the card any more; part of amending. `why` names the amendment, by its number and its place."""
    counted = everywhere(BuiltSag, why=_WHY).filter(card=card, left_out="")
    add(list(counted), sign=-1)
    counted.update(left_out=why[:200])


def _group(one: BuiltSag) -> tuple[str, str, str]:
    # Two seals of one shop wait for each other; rows are taken in one order all the same.
    return one.model_key, one.end, one.sag
