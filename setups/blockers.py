"""What keeps a card from being sealed: each with one sentence, and the step where it is mended."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from typing import TypedDict
from zoneinfo import ZoneInfo

from django.utils import timezone

from calc.words import mark, say
from setups import cautions, estimates, measured, sums
from setups.models import JobCard, SignOff, TorqueLine
from shops import calibration
from shops.models import Shop, Tool

END_WORDS = {"front": mark("fork"), "rear": mark("shock")}


OVERRIDABLE = frozenset({"wrench_out_of_calibration", "no_second_check", "no_reading", "not_approved"})
"""What a manager may override with a written reason: a wrench overdue where no other is at hand, the second check
of somebody alone in the shop, a sag not read again, an estimate agreed to by telephone. Never what the record
itself rests on: a torque without value, source, wrench or hand, a setting not written down or that goes solid, a
caution unread, a job nobody answers for.
"""


NAMES = {
    "wrench_out_of_calibration": mark("A wrench out of calibration"),
    "no_second_check": mark("A second check that was not made"),
    "no_reading": mark("A sag that was not read again"),
    "not_approved": mark("An estimate that was not approved"),
}
"""What may be overridden in a few words, for whoever reads another language than the override was written in."""


class Blocker(TypedDict):
    """One reason why a card cannot be sealed yet.

    `about` names what exactly is meant, so that an override covers this and nothing else; `may_override` tells
    whether a manager may override it.
    """

    code: str
    text: str
    step: str
    about: str
    may_override: bool


def make(code: str, text: str, step: str, about: str = "") -> Blocker:
    """Return a blocker; whether it may be overridden follows from its code."""
    return Blocker(code=code, text=text, step=step, about=about, may_override=code in OVERRIDABLE)


def blockers(card: JobCard) -> list[Blocker]:
    """Return everything that keeps `card` from being sealed, in the order of the steps; empty: it may be
    sealed.

    What a manager has overridden is left out. A sealed card has none.
    """
    if card.step == JobCard.Step.SEALED:
        return []
    covered = {(one.code, one.about) for one in card.overrides.all()}
    return [one for one in standing(card) if (one["code"], one["about"]) not in covered]


def standing(card: JobCard) -> list[Blocker]:
    """Return everything that stands in the way, overridden or not.

    An end counts as worked on once something was chosen or built there.
    """
    ends = [end for end in measured.ENDS if worked_on(card, end)]
    found = [*_nothing_done(card, ends), *_approval(card)]
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
        text = say("Nothing is written down as built: write the as-built setting of the end that was worked on.")
        yield make("no_work", text, "built")


def _approval(card: JobCard) -> Iterator[Blocker]:
    if estimates.waits(card):
        says = {
            "declined": say("The customer declined the estimate."),
            "changed": say("The estimate was changed since."),
        }
        text = says.get(estimates.state(card), say("The customer has not approved the estimate yet."))
        about = f"estimate {estimates.present_digest(card)[:16]}"
        yield make("not_approved", say("{text} Work waits for the approval.", text=text), "chosen", about)


def work_waits(card: JobCard) -> Blocker | None:
    """Return what keeps the work from being signed off: an approval that is missing and not overridden."""
    return next((one for one in blockers(card) if one["code"] == "not_approved"), None)


def _settings(card: JobCard, end: str) -> Iterator[Blocker]:
    for stage, step in (("received", "received"), ("built", "built")):
        if sums.setting_of(card, stage, end) is None:
            text = say(
                "The {end_words}'s setting {stage_labels} is not written down.",
                end_words=say(END_WORDS[end]), stage_labels=say(sums.STAGE_LABELS[stage]),
            )
            yield make("no_setting", text, step)


def _calc(card: JobCard, end: str) -> Iterator[Blocker]:
    body = sums.body_of(card, "built", end)
    if body is None:
        return
    for problem in sums.problems_of(card, "built", end, body):
        yield make(problem.code, say(
            "As built, {end_words}: {text}",
            end_words=say(END_WORDS[end]), text=problem.text,
        ), "built")


def _readings(card: JobCard, end: str) -> Iterator[Blocker]:
    if card.bike is None:
        return
    sag, problems = measured.sag_or_problems(card, "built", end)
    for problem in problems:
        yield make(problem.code, say(
            "Readings after the build, {end}: {text}",
            end=say(end), text=problem.text,
        ), "remeasured")
    if problems:
        return
    for key, name in (("static_sag_mm", say("static sag")), ("rider_sag_mm", say("rider sag"))):
        if sag is None or sag[key] is None:
            text = say("The {name} at the {end} was not read after the build.", name=name, end=say(end))
            yield make("no_reading", text, "remeasured", f"{end} {key}")


def _torque(card: JobCard, line: TorqueLine) -> Iterator[Blocker]:
    def blocker(code: str, says: str, about: str = "") -> Blocker:
        return make(code, f"{line.fastener}: {says}", "built", about)

    if line.value_nm is None:
        yield blocker(
            "torque_blank", say("the torque is blank; type the bike's own manual's value, or remove the line.")
        )
        return
    if not line.source_edition or not line.source_page:
        yield blocker("torque_no_source", say("the torque has no source; give the manual's edition and page."))
    if line.wrench is None:
        yield blocker("torque_no_wrench", say("no torque wrench is named."))
    if line.wrench is not None:
        yield from _calibration(card, line, line.wrench)
    if line.tightened_by is None or line.tightened_at is None:
        yield blocker("not_tightened", say("not noted as tightened yet."))
        return
    if line.needs_second_check and (line.checked_by is None or line.checked_by_id == line.tightened_by_id):
        about = f"torque {line.pk} tightened {line.tightened_at.isoformat()}"
        yield blocker("no_second_check", say("a second person must still check."), about)


def calibration_of(line: TorqueLine, wrench: Tool) -> calibration.Calibration:
    """Return the calibration that counts for a line: the one at its tightening, or before that the wrench's own.

    A date corrected on that very calibration counts; one done since does not reach back.
    """
    now = calibration.of(wrench)
    if line.calibration is None:
        return now
    then = calibration.kept(line.calibration)
    return replace(now, cycles=then.cycles) if now.calibrated_on == then.calibrated_on else then


def about_wrench(line: TorqueLine, wrench: Tool) -> str:
    """Name a line's use of a wrench with the calibration that counts for it, for an override."""
    return f"torque {line.pk} wrench {wrench.pk} calibrated {calibration_of(line, wrench).calibrated_on}"


def _calibration(card: JobCard, line: TorqueLine, wrench: Tool) -> Iterator[Blocker]:
    day = day_in(card.shop, line.tightened_at or timezone.now())
    why = calibration_of(line, wrench).why_not(day)
    if why is not None:
        text = say(
            "{fastener}: {wrench} {why}. Tighten again with another, or enter its new calibration.",
            fastener=say(line.fastener), wrench=wrench, why=why,
        )
        yield make("wrench_out_of_calibration", text, "built", about_wrench(line, wrench))


def _cautions(card: JobCard) -> Iterator[Blocker]:
    read = {one.key for one in card.cautions_read.all()}
    for caution in cautions.applying(card):
        if caution.key not in read:
            text = say(
                "A caution was not read: {word}, {first}.",
                word=say(caution.word), first=say(caution.text).partition(". ")[0].rstrip("."),
            )
            yield make("caution_unread", text, caution.step)


def _sign_offs(card: JobCard) -> Iterator[Blocker]:
    signed = {one.part for one in card.sign_offs.all()}
    for part in SignOff.Part:
        if part not in signed:
            text = say("Nobody has signed off: {label}.", label=part.label)
            yield make("no_sign_off", text, "built" if part == SignOff.Part.WORK else "handed_over")
