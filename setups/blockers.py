"""What keeps a card from being sealed: each with one sentence, and the step where it is mended."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import TypedDict
from zoneinfo import ZoneInfo

from setups import cautions, measured, sums
from setups.models import JobCard, SignOff, TorqueLine
from shops.models import Shop

END_WORDS = {"front": "fork", "rear": "shock"}


class Blocker(TypedDict):
    """One reason why a card cannot be sealed yet."""

    code: str
    text: str
    step: str


def blockers(card: JobCard) -> list[Blocker]:
    """Return everything that keeps `card` from being sealed, in the order of the steps; empty: it may be
    sealed.

    An end counts as worked on once something was chosen or built there. A sealed card has none.
    """
    if card.step == JobCard.Step.SEALED:
        return []
    ends = [end for end in measured.ENDS if worked_on(card, end)]
    found = [*_nothing_done(card, ends)]
    for end in ends:
        found += [*_settings(card, end), *_calc(card, end), *_readings(card, end)]
    for line in card.torques.all():
        found += _torque(card, line)
    found += [*_cautions(card), *_sign_offs(card)]
    steps = list(JobCard.Step.values)
    return sorted(found, key=lambda blocker: steps.index(blocker["step"]))


def worked_on(card: JobCard, end: str) -> bool:
    """Return whether something was chosen or built at `end`."""
    return any(sums.setting_of(card, stage, end) is not None for stage in ("chosen", "built"))


def day_in(shop: Shop, moment: datetime) -> date:
    """Return the calendar day of `moment` where the shop is."""
    return moment.astimezone(ZoneInfo(shop.time_zone)).date()


def _nothing_done(card: JobCard, ends: list[str]) -> Iterator[Blocker]:
    if not ends:
        text = "Nothing is written down as built: write the as-built setting of the end that was worked on."
        yield Blocker(code="no_work", text=text, step="built")


def _settings(card: JobCard, end: str) -> Iterator[Blocker]:
    for stage, step in (("received", "received"), ("built", "built")):
        if sums.setting_of(card, stage, end) is None:
            text = f"The {END_WORDS[end]}'s setting {sums.STAGE_LABELS[stage]} is not written down."
            yield Blocker(code="no_setting", text=text, step=step)


def _calc(card: JobCard, end: str) -> Iterator[Blocker]:
    body = sums.body_of(card, "built", end)
    if body is None:
        return
    for problem in sums.problems_of(card, "built", end, body):
        yield Blocker(code=problem.code, text=f"As built, {END_WORDS[end]}: {problem.text}", step="built")


def _readings(card: JobCard, end: str) -> Iterator[Blocker]:
    if card.bike is None:
        return
    sag, problems = measured.sag_or_problems(card, "built", end)
    for problem in problems:
        yield Blocker(
            code=problem.code, text=f"Readings after the build, {end}: {problem.text}", step="remeasured"
        )
    if problems:
        return
    for key, name in (("static_sag_mm", "static sag"), ("rider_sag_mm", "rider sag")):
        if sag is None or sag[key] is None:
            text = f"The {name} at the {end} was not read after the build."
            yield Blocker(code="no_reading", text=text, step="remeasured")


def _torque(card: JobCard, line: TorqueLine) -> Iterator[Blocker]:
    def blocker(code: str, says: str) -> Blocker:
        return Blocker(code=code, text=f"{line.fastener}: {says}", step="built")

    if line.value_nm is None:
        yield blocker(
            "torque_blank", "the torque is blank; type the bike's own manual's value, or remove the line."
        )
        return
    if not line.source_edition or not line.source_page:
        yield blocker("torque_no_source", "the torque has no source; give the manual's edition and page.")
    if line.wrench is None:
        yield blocker("torque_no_wrench", "no torque wrench is named.")
    if line.tightened_by is None or line.tightened_at is None:
        yield blocker("not_tightened", "not noted as tightened yet.")
        return
    if line.wrench is not None:
        yield from _calibration(card, line)
    if line.needs_second_check and (line.checked_by is None or line.checked_by_id == line.tightened_by_id):
        yield blocker("no_second_check", "a second person must still check.")


def _written(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def _calibration(card: JobCard, line: TorqueLine) -> Iterator[Blocker]:
    wrench, moment = line.wrench, line.tightened_at
    if wrench is None or moment is None:
        return
    day = day_in(card.shop, moment)
    if wrench.calibration_due is None:
        says = f"no calibration date is known for {wrench}."
    elif wrench.calibration_due < day:
        says = f"{wrench} was out of calibration on {_written(day)} (due {_written(wrench.calibration_due)})."
    elif wrench.calibrated_on is not None and wrench.calibrated_on > day:
        says = (
            f"{wrench} was calibrated only on {_written(wrench.calibrated_on)}, after it was used on "
            f"{_written(day)}."
        )
    else:
        return
    yield Blocker(
        code="wrench_out_of_calibration",
        text=f"{line.fastener}: {says} Tighten again with another.",
        step="built",
    )


def _cautions(card: JobCard) -> Iterator[Blocker]:
    read = {one.key for one in card.cautions_read.all()}
    for caution in cautions.applying(card):
        if caution.key not in read:
            text = f"A caution was not read: {caution.word}, {caution.text.partition('. ')[0].rstrip('.')}."
            yield Blocker(code="caution_unread", text=text, step=caution.step)


def _sign_offs(card: JobCard) -> Iterator[Blocker]:
    signed = {one.part for one in card.sign_offs.all()}
    for part in SignOff.Part:
        if part not in signed:
            text = f"Nobody has signed off: {part.label}."
            yield Blocker(
                code="no_sign_off", text=text, step="built" if part == SignOff.Part.WORK else "handed_over"
            )
