"""The workshop's tools by the day their calibration ends, and how often each was used since it was calibrated."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db.models import Count, IntegerField, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from setups.audit.asked import Asked
from setups.audit.row import Row, blank
from setups.models import TorqueLine
from shops.access import rows
from shops.models import Tool

COLUMNS = {"shop_name": "Shop", "bike": "Tool", "text": "Calibration and use", "why": "What to do"}


def find(asked: Asked) -> QuerySet[Any]:
    """Find the tools in use, those without a date and those due first at the top; days narrow by the due date."""
    used = (
        rows(TorqueLine, asked.person)
        .filter(wrench=OuterRef("pk"), tightened_at__isnull=False)
        .filter(Q(tightened_at__date__gte=OuterRef("calibrated_on")) | Q(wrench__calibrated_on__isnull=True))
        .order_by()
        .values("wrench")
        .annotate(count=Count("pk"))
        .values("count")
    )
    found = rows(Tool, asked.person).filter(in_use=True)
    if asked.shop is not None:
        found = found.filter(shop=asked.shop)
    if asked.since is not None:
        found = found.filter(calibration_due__gte=asked.since)
    if asked.until is not None:
        found = found.filter(Q(calibration_due__lte=asked.until) | Q(calibration_due__isnull=True))
    cycles = Coalesce(Subquery(used, output_field=IntegerField()), 0)
    dated = found.annotate(cycles=cycles).select_related("shop")
    return dated.order_by(Coalesce("calibration_due", date.min), "name", "pk")


def tell(asked: Asked, found: Sequence[Any]) -> list[Row]:
    """Return each tool with its dates and the fasteners tightened with it since."""
    return [_row(asked, one) for one in found]


def _row(asked: Asked, tool: Any) -> Row:
    done = _day(tool.calibrated_on, "Calibrated on {}", "No calibration date known")
    due = _day(tool.calibration_due, "due on {}", "no due date known")
    used = f"{tool.cycles} {'fastener' if tool.cycles == 1 else 'fasteners'} tightened with it since"
    over = tool.calibration_due is None or tool.calibration_due < asked.now.date()
    return {
        **blank(tool.pk),
        "shop_name": tool.shop.name,
        "bike": str(tool),
        "text": f"{done}, {due}; {used}.",
        "why": "Out of calibration: have it calibrated before it is used again." if over else "",
    }


def _day(on: date | None, words: str, unknown: str) -> str:
    return unknown if on is None else words.format(f"{on.day} {on:%b %Y}")
