"""Keeps `SagTotal` up to the counted `BuiltSag` rows: the sums from which mean, spread and uncertainty follow."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.db.models import Count, F, FloatField, Max, Min, Sum

from setups.models import BuiltSag, JobCard, SagTotal
from shops.access import everywhere
from shops.models import Shop

SUMMED = ("model_key", "end", "sag", "first", "cards", "sum_mm", "squares_mm2", "u_squares_mm2")
_WHY = "the totals of rows already held"


@transaction.atomic
def add(found: Iterable[BuiltSag], *, sign: int = 1) -> None:
    """Add rows to their totals, or with sign -1 take them away again."""
    for one in sorted(found, key=_group):
        total, _ = everywhere(SagTotal, why=_WHY).get_or_create(
            shop_id=one.shop_id, model_key=one.model_key, end=one.end, sag=one.sag,
            defaults={"business_id": one.business_id, "make": one.make, "model": one.model, "first": one.pk},
        )  # fmt: skip
        everywhere(SagTotal, why=_WHY).filter(pk=total.pk).update(
            cards=F("cards") + sign,
            sum_mm=F("sum_mm") + sign * one.difference_mm,
            squares_mm2=F("squares_mm2") + sign * one.difference_mm**2,
            u_squares_mm2=F("u_squares_mm2") + sign * one.u_mm**2,
        )


@transaction.atomic
def count_again(shop: Shop) -> None:
    """Add a shop's totals up afresh from all its rows, such as after rows were written in bulk."""
    everywhere(SagTotal, why=_WHY).filter(shop=shop).delete()
    counted = everywhere(BuiltSag, why=_WHY).filter(shop=shop, left_out="").order_by()
    groups: Any = counted.values("model_key", "end", "sag").annotate(
        make_name=Max("make"), model_name=Max("model"), cards=Count("id"), first=Min("id"), sum_mm=Sum("difference_mm"),
        squares_mm2=_squares("difference_mm"), u_squares_mm2=_squares("u_mm"),
    )  # fmt: skip
    SagTotal.objects.bulk_create(
        SagTotal(
            business_id=shop.business_id, shop=shop, make=one["make_name"], model=one["model_name"],
            **{name: one[name] for name in SUMMED},
        )
        for one in groups
    )  # fmt: skip


def _squares(name: str) -> Sum:
    return Sum(F(name) * F(name), output_field=FloatField())


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
