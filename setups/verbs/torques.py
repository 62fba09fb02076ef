"""Torque lines: fastener, value from the bike's own manual, who tightened, who checked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from calc.bands import Band
from calc.checks import Findings
from calc.refusal import Problem
from setups import fasteners
from setups.models import JobCard, TorqueLine
from setups.verbs.guard import change, hold
from shops import trail, versions
from shops.refusals import wrong
from shops.trail import Actor

TORQUE = Band("a torque", "N·m", 0, 400, open_low=True)
"""Set wide of what is met on a motorcycle (common practice, no source)."""


@transaction.atomic
def add_torque(actor: Actor, card: JobCard, **values: Any) -> TorqueLine:
    """Add a line for a fastener; value, source and wrench may follow later."""
    hold(card)
    _check(card, values)
    if values.get("needs_second_check") is False:
        _keep_second_check(values["fastener"])
    line = TorqueLine.objects.create(card=card, **values)
    trail.record(actor, "add torque line", line, None, {"card": card, **values})
    return line


@transaction.atomic
def change_torque(actor: Actor, line: TorqueLine, version: int, values: Mapping[str, Any]) -> TorqueLine:
    """Change a line. A change of fastener, value or wrench takes tightening and check back: they were for
    another.
    """
    hold(line.card)
    _check(line.card, values)
    if values.get("needs_second_check") is False and line.needs_second_check:
        _keep_second_check(line.fastener)
    wanted = dict(values)
    if any(
        name in values and getattr(line, name) != values[name] for name in ("fastener", "value_nm", "wrench")
    ):
        wanted |= {"tightened_by": None, "tightened_at": None, "checked_by": None, "checked_at": None}
    return change(actor, "change torque line", line, version, wanted)


@transaction.atomic
def tighten(actor: Actor, line: TorqueLine) -> TorqueLine:
    """Note that the actor has tightened this fastener to its value; an earlier check no longer counts."""
    hold(line.card)
    findings = Findings()
    if line.value_nm is None:
        text = f"{line.fastener}: no torque value yet, so type the one in the bike's own manual first."
        findings.problems.append(Problem("value_nm", "no_value", text))
    if line.wrench is None:
        findings.problems.append(
            Problem("wrench", "no_wrench", f"{line.fastener}: say which torque wrench tightens it.")
        )
    elif line.wrench.calibration_due is None or line.wrench.calibration_due < timezone.localdate():
        due = line.wrench.calibration_due
        known = f"due {due.day} {due:%b %Y}" if due else "no date known"
        text = f"{line.wrench} is out of calibration ({known}): use another wrench."
        findings.problems.append(
            Problem("wrench", "wrench_out_of_calibration", text, due.isoformat() if due else None)
        )
    findings.raise_any()
    wanted = {
        "tightened_by": actor.person,
        "tightened_at": timezone.now(),
        "checked_by": None,
        "checked_at": None,
    }
    return change(actor, "tighten", line, line.version, wanted)


@transaction.atomic
def check(actor: Actor, line: TorqueLine) -> TorqueLine:
    """Note that the actor, another person than the one who tightened it, has checked this fastener."""
    hold(line.card)
    if line.tightened_by is None:
        raise wrong("", "not_tightened", f"{line.fastener}: not tightened yet, so there is nothing to check.")
    if line.tightened_by_id == actor.person.pk:
        text = f"{line.fastener}: you tightened this yourself, and the second check is for another person."
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
        for name in ("card", "fastener", "value_nm", "source_edition", "source_page")
    }
    pk = line.pk
    versions.remove(line, version)
    line.pk = pk
    trail.record(actor, "remove torque line", line, before, None, reason)


def _keep_second_check(fastener: str) -> None:
    """Refuse to let one person alone answer for a brake, an axle or a clamp."""
    if fasteners.second_check(fastener):
        text = f"{fastener}: brakes, axles and clamps are always checked by a second person."
        raise wrong("needs_second_check", "second_check_stays", text)


def _check(card: JobCard, values: Mapping[str, Any]) -> None:
    findings = Findings()
    if values.get("value_nm") is not None:
        findings.value(values["value_nm"], "value_nm", TORQUE)
    wrench = values.get("wrench")
    if wrench is not None and wrench.kind != wrench.Kind.TORQUE_WRENCH:
        findings.add("wrench", "not_a_wrench", f"{wrench} is no torque wrench.")
    elif wrench is not None and wrench.shop_id != card.shop_id:
        findings.add("wrench", "other_shop", f"{wrench} belongs to another shop.")
    findings.raise_any()
