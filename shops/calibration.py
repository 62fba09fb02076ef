"""Whether a torque wrench may be trusted: calibrated within 12 months and 5,000 cycles, whichever ends first.

ISO 6789-1:2017 gives these as the interval for a user who has no control procedure of his own (clause from
memory; the interval runs from the first use or the calibration, here always from the calibration). A date on the
certificate that comes earlier holds. Other tools have no cycles: for them the certificate's date holds alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from calc.words import say
from shops import days
from shops.models import Tool

MONTHS, CYCLES = 12, 5_000


@dataclass(frozen=True)
class Calibration:
    """What is known of a tool's calibration: when it was done, until when it holds, cycles since then."""

    calibrated_on: date | None
    due_on: date | None
    cycles: int

    def as_dict(self) -> dict[str, Any]:
        """Return it as the plain mapping that a torque line keeps."""
        return {
            "calibrated_on": None if self.calibrated_on is None else self.calibrated_on.isoformat(),
            "due_on": None if self.due_on is None else self.due_on.isoformat(),
            "cycles": self.cycles,
        }

    def why_not(self, day: date) -> str | None:
        """Return why the tool was out of calibration on `day`, as the end of a sentence; None if it was not."""
        if self.due_on is None:
            return _("has no calibration date")
        if self.due_on < day:
            return _("was out of calibration on {day} (due {due})").format(day=written(day), due=written(self.due_on))
        if self.calibrated_on is not None and self.calibrated_on > day:
            return _("was calibrated only on {calibrated}, after it was used on {day}").format(
                calibrated=written(self.calibrated_on), day=written(day)
            )
        if self.cycles > CYCLES:
            return say(
                "has done {cycles:,} cycles since it was calibrated ({most:,} at most)", cycles=self.cycles, most=CYCLES
            )
        return None


def of(tool: Tool) -> Calibration:
    """Return the calibration of `tool` as it stands."""
    return Calibration(tool.calibrated_on, due_on(tool), tool.cycles_since_calibration)


def kept(plain: Mapping[str, Any]) -> Calibration:
    """Return the calibration that a torque line keeps."""
    dates = [None if plain[name] is None else date.fromisoformat(plain[name]) for name in ("calibrated_on", "due_on")]
    return Calibration(dates[0], dates[1], plain["cycles"])


def due_on(tool: Tool) -> date | None:
    """Return the last day on which the calibration holds, None where no date is known."""
    if tool.kind != Tool.Kind.TORQUE_WRENCH or tool.calibrated_on is None:
        return tool.calibration_due
    by_practice = _a_year_after(tool.calibrated_on)
    return by_practice if tool.calibration_due is None else min(by_practice, tool.calibration_due)


def written(day: date) -> str:
    """Write a day as a reader does."""
    return days.written(day, short=True)


def _a_year_after(day: date) -> date:
    try:
        return day.replace(year=day.year + MONTHS // 12)
    except ValueError:  # 29 February
        return day.replace(year=day.year + MONTHS // 12, day=28)
