"""The workshop's tools by the day their calibration ends, and how often each was used since it was calibrated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.words import say
from setups.audit.asked import Asked
from setups.audit.row import Row, blank
from shops import calibration
from shops.access import rows
from shops.models import Tool

COLUMNS: Mapping[str, Any] = {
    "shop_name": gettext_lazy("Shop"),
    "who": gettext_lazy("Kind"),
    "bike": gettext_lazy("Tool"),
    "text": gettext_lazy("Calibration and use"),
    "why": gettext_lazy("What is wrong"),
}


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
    done, due = _("No calibration date known"), _("no due date known")
    if known.calibrated_on is not None:
        done = _("Calibrated on {day}").format(day=calibration.written(known.calibrated_on))
    if known.due_on is not None:
        due = _("due on {day}").format(day=calibration.written(known.due_on))
    used = ""
    if tool.kind == Tool.Kind.TORQUE_WRENCH:
        used = say("; {cycles:,} of {most:,} cycles since", cycles=known.cycles, most=calibration.CYCLES)
    wrong = known.why_not(asked.now.date())
    return {
        **blank(tool.pk),
        "shop_name": tool.shop.name,
        "bike": str(tool),
        "who": tool.get_kind_display(),
        "text": f"{done}, {due}{used}.",
        "why": _("It {wrong}: have it calibrated before it is used again.").format(wrong=wrong) if wrong else "",
    }
