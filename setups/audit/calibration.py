"""Which tools were in calibration on which days: today's dates and, from the trail, those they replaced.

A wrench calibrated anew must not make last year's work look uncovered, so that every interval ever written down
counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils.translation import gettext as _

from setups.audit.asked import Asked
from shops.access import rows
from shops.calibration import CYCLES, due_on
from shops.models import AuditEntry, Tool
from shops.refusals import wrong

MOST_TOOLS = 300
"""More than these at once make a question too long for a database; a shop has fewer."""
DATES = ("calibrated_on", "calibration_due")

Interval = tuple[date | None, date]


def uncovered(asked: Asked) -> Q:
    """Return the condition that a torque line's wrench was covered by no known calibration when it was used.

    It names the times that are not covered, wrench by wrench: an index finds those, and no others are looked at.
    """
    tools = rows(Tool, asked.person).select_related("shop")
    if asked.shop is not None:
        tools = tools.filter(shop=asked.shop)
    found = list(tools[: MOST_TOOLS + 1])
    if len(found) > MOST_TOOLS:
        text = _("The business has more than {most} tools: choose a shop.").format(most=MOST_TOOLS)
        raise wrong("shop", "choose_a_shop", text)
    condition = Q(calibration__cycles__gt=CYCLES)
    for tool, intervals in _histories(asked, found):
        for gap in _gaps(tool, intervals):
            condition |= Q(gap, wrench=tool)
    return condition


def _gaps(tool: Tool, covered: Iterable[Interval]) -> Iterator[Q]:
    """Yield the conditions that a tightening falls before a tool's calibrations, between two, or after the last.

    No interval leaves every tightening; one without a first day covers all that came before its last.
    """
    zone = ZoneInfo(tool.shop.time_zone)
    begin: datetime | None = None
    for start, end in sorted(covered, key=lambda one: (one[0] or date.min, one[1])):
        first = None if start is None else datetime.combine(start, time(), zone)
        if first is not None and (begin is None or first > begin):
            yield Q(tightened_at__lt=first) & (Q() if begin is None else Q(tightened_at__gte=begin))
        after = datetime.combine(end + timedelta(days=1), time(), zone)
        begin = after if begin is None else max(begin, after)
    yield Q(tightened_at__isnull=False) if begin is None else Q(tightened_at__gte=begin)


def _histories(asked: Asked, tools: Iterable[Tool]) -> Iterator[tuple[Tool, list[Interval]]]:
    known = {tool.pk: tool for tool in tools}
    lines: dict[int, list[Mapping[str, Any]]] = {}
    changes = rows(AuditEntry, asked.person).filter(subject="tool", subject_id__in=known, before__isnull=False)
    for pk, before in changes.order_by("-id").values_list("subject_id", "before"):
        lines.setdefault(pk, []).append(before or {})
    for pk, tool in known.items():
        yield tool, list(intervals(tool, lines.get(pk, ())))


def intervals(tool: Tool, before: Iterable[Mapping[str, Any]]) -> Iterator[Interval]:
    """Yield the days, first and last, that each of a tool's calibrations covered; `before` are the fields that its
    changes replaced, the newest change first. Without any date nothing is covered.
    """
    now: dict[str, date | None] = {name: getattr(tool, name) for name in DATES}
    states = [dict(now)]
    for replaced in before:
        if any(name in replaced for name in DATES):
            now |= {name: _day(replaced[name]) for name in DATES if name in replaced}
            states.append(dict(now))
    for state in states:
        due = due_on(Tool(kind=tool.kind, **state))
        if due is not None:
            yield state["calibrated_on"], due


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)
