"""The workshop's tools by the day their calibration ends, and how often each was used since it was calibrated."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet
from django.db.models.functions import Coalesce

from setups.audit.asked import Asked
from setups.audit.row import Row, blank
from shops import calibration
from shops.access import rows
from shops.models import Tool

COLUMNS = {"shop_name": "Shop", "who": "Kind", "bike": "Tool", "text": "Calibration and use", "why": "What is wrong"}


def find(asked: Asked) -> QuerySet[Any]:
    """Find the tools in use, those without a date and those due first on top; days narrow by the certificate's."""
    found = rows(Tool, asked.person).filter(in_use=True)
    if asked.shop is not None:
        found = found.filter(shop=asked.shop)
    if asked.since is not None:
        found = found.filter(calibration_due__gte=asked.since)
    if asked.until is not None:
        found = found.filter(Q(calibration_due__lte=asked.until) | Q(calibration_due__isnull=True))
    return found.select_related("shop").order_by(Coalesce("calibration_due", date.min), "name", "pk")


def tell(asked: Asked, found: Sequence[Tool]) -> list[Row]:
    """Return each tool with its dates and its cycles since."""
    return [_row(asked, one) for one in found]


def _row(asked: Asked, tool: Tool) -> Row:
    known = calibration.of(tool)
    done = "No calibration date known" if known.calibrated_on is None else f"Calibrated on {_day(known.calibrated_on)}"
    due = "no due date known" if known.due_on is None else f"due on {_day(known.due_on)}"
    wrench = tool.kind == Tool.Kind.TORQUE_WRENCH
    used = f"; {known.cycles:,} of {calibration.CYCLES:,} cycles since" if wrench else ""
    wrong = known.why_not(asked.now.date())
    return {
        **blank(tool.pk),
        "shop_name": tool.shop.name,
        "bike": str(tool),
        "who": tool.get_kind_display(),
        "text": f"{done}, {due}{used}.",
        "why": f"It {wrong}: have it calibrated before it is used again." if wrong else "",
    }


def _day(on: date) -> str:
    return calibration.written(on)
