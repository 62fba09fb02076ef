"""Torque lines: fastener, value from the bike's own manual, who tightened, who checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from calc.bands import Band
from calc.checks import Findings
from calc.refusal import Problem
from calc.words import mark, say
from setups import blockers, fasteners
from setups.limits import FASTENERS
from setups.models import JobCard, TorqueLine
from setups.verbs.guard import change, hold
from shops import trail, versions
from shops.access import everywhere
from shops.calibration import Calibration, of
from shops.models import Tool
from shops.refusals import wrong
from shops.trail import Actor

TORQUE = Band(mark("a torque"), "N·m", 0, 400, open_low=True)
"""Set wide of what is met on a motorcycle (common practice, no source)."""


@transaction.atomic
def add_torque(actor: Actor, card: JobCard, **values: Any) -> TorqueLine:
    """Add a line for a fastener; value, source and wrench may follow later."""
    hold(card)
    values["fastener"] = fasteners.english(values["fastener"])
    _check(card, values)
    if values.get("needs_second_check") is False:
        _keep_second_check(values["fastener"])
    line = TorqueLine.objects.create(card=card, **values)
    trail.record(actor, "add torque line", line, None, {"card": card, **values})
    return line


@transaction.atomic
def change_torque(actor: Actor, line: TorqueLine, version: int, values: Mapping[str, Any]) -> TorqueLine:
    """Change a line. A change of fastener, count, value or wrench takes tightening and check back: they were for
    another.
    """
    hold(line.card)
    if "fastener" in values:
        values = {**values, "fastener": fasteners.english(values["fastener"])}
    _check(line.card, values)
    if values.get("needs_second_check") is False and line.needs_second_check:
        _keep_second_check(line.fastener)
    wanted = dict(values)
    if any(
        name in values and getattr(line, name) != values[name] for name in ("fastener", "count", "value_nm", "wrench")
    ):
        wanted |= dict.fromkeys(("tightened_by", "tightened_at", "checked_by", "checked_at", "calibration"))
    return change(actor, "change torque line", line, version, wanted)


@transaction.atomic
def tighten(actor: Actor, line: TorqueLine) -> TorqueLine:
    """Note that the actor has tightened this fastener to its value; an earlier check no longer counts.

    The wrench has done one cycle more for each of its fasteners, and the line keeps its calibration of now. A wrench
    out of calibration is refused, unless a manager has overridden that for this line.
    """
    hold(line.card)
    findings, kept = Findings(), Calibration(None, None, 0)
    if line.value_nm is None:
        text = say(
            "{fastener}: no torque value yet, so type the one in the bike's own manual first.",
            fastener=say(line.fastener),
        )
        findings.problems.append(Problem("value_nm", "no_value", text))
    if line.wrench is None:
        findings.problems.append(
            Problem("wrench", "no_wrench", say(
                "{fastener}: say which torque wrench tightens it.",
                fastener=say(line.fastener),
            ))
        )
    else:
        kept = _use(line, line.wrench, findings)
    findings.raise_any()
    everywhere(Tool, why="the wrench of a line already held").filter(pk__in=[line.wrench_id]).update(
        cycles_since_calibration=F("cycles_since_calibration") + line.count
    )
    wanted = {
        "calibration": kept.as_dict(),
        "tightened_by": actor.person,
        "tightened_at": timezone.now(),
        "checked_by": None,
        "checked_at": None,
    }
    return change(actor, "tighten", line, line.version, wanted)


def _use(line: TorqueLine, wrench: Tool, findings: Findings) -> Calibration:
    """Return the wrench's calibration with the cycles about to be done; out of calibration is a problem."""
    held = everywhere(Tool, why="the wrench of a line already held").select_for_update().get(pk=wrench.pk)
    now = of(held)
    kept = replace(now, cycles=now.cycles + line.count)
    afresh = TorqueLine(pk=line.pk)
    covered = line.card.overrides.filter(
        code="wrench_out_of_calibration", about=blockers.about_wrench(afresh, held)
    ).exists()
    why = kept.why_not(blockers.day_in(line.card.shop, timezone.now()))
    if why is not None and not covered:
        text = say(
            "{wrench} {why}: use another wrench, or enter its new calibration first.",
            wrench=wrench, why=why,
        )
        due = None if kept.due_on is None else kept.due_on.isoformat()
        findings.problems.append(Problem("wrench", "wrench_out_of_calibration", text, due))
    return kept


@transaction.atomic
def check(actor: Actor, line: TorqueLine) -> TorqueLine:
    """Note that the actor, another person than the one who tightened it, has checked this fastener."""
    hold(line.card)
    if line.tightened_by is None:
        raise wrong("", "not_tightened", say(
            "{fastener}: not tightened yet, so there is nothing to check.",
            fastener=say(line.fastener),
        ))
    if line.tightened_by_id == actor.person.pk:
        text = say(
            "{fastener}: you tightened this yourself, and the second check is for another person.",
            fastener=say(line.fastener),
        )
        raise wrong("", "same_person", text)
    return change(
        actor, "check torque", line, line.version, {"checked_by": actor.person, "checked_at": timezone.now()}
    )


@transaction.atomic
def remove_torque(actor: Actor, line: TorqueLine, version: int, reason: str) -> None:
    """Remove a line that does not apply to this job; the reason stays in the trail."""
    hold(line.card)
    before = {
        name: getattr(line, name)
        for name in (
            "card", "fastener", "count", "value_nm", "source_edition", "source_page", "wrench", "needs_second_check",
            "tightened_by", "tightened_at", "checked_by", "checked_at",
        )
    }
    pk = line.pk
    versions.remove(line, version)
    line.pk = pk
    trail.record(actor, "remove torque line", line, before, None, reason)


def _keep_second_check(fastener: str) -> None:
    """Refuse to let one person alone answer for a brake, an axle or a clamp."""
    if fasteners.second_check(fastener):
        text = say(
            "{fastener}: brakes, axles and clamps are always checked by a second person.", fastener=say(fastener)
        )
        raise wrong("needs_second_check", "second_check_stays", text)


def _check(card: JobCard, values: Mapping[str, Any]) -> None:
    findings = Findings()
    if values.get("value_nm") is not None:
        findings.value(values["value_nm"], "value_nm", TORQUE)
    if "count" in values:
        findings.value(values["count"], "count", FASTENERS)
    wrench = values.get("wrench")
    if wrench is not None and wrench.kind != wrench.Kind.TORQUE_WRENCH:
        findings.add("wrench", "not_a_wrench", say("{wrench} is no torque wrench.", wrench=wrench))
    elif wrench is not None and wrench.shop_id != card.shop_id:
        findings.add("wrench", "other_shop", say("{wrench} belongs to another shop.", wrench=wrench))
    findings.raise_any()
