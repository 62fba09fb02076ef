"""From a card to what its suspension does: calc's request, its result, the verdict and the picture of each
end.

Nothing is computed here that belongs in calc; what is known is put together, asked, and put into the trade's
words.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from calc import printed
from calc.bands import BANDS
from calc.damping import growth
from calc.evaluate import evaluate, sprung_load
from calc.picture import Layout, layout, picture
from calc.refusal import Note, Problem, Refusal
from calc.winding import Winding
from calc.words import capital, mark, say
from setups import bodies, measured
from setups.figures import retold
from setups.measured import Loads, Targets
from setups.models import JobCard, Setting
from setups.no_cure import softer
from setups.sag_corrections import corrected, correction_of
from setups.springs import overall_rate, rate_words
from setups.verdict import Adjuster, Reached, Sags, Verdict, hedged, judge
from shops.language import here

STAGES = ("received", "chosen", "built")
STAGE_LABELS: Mapping[str, str] = {
    "received": mark("as received"), "chosen": mark("chosen"), "built": mark("as built"),
}
TOPPED_OUT_MM = 1.0
"""A static sag below this, the uncertainty of one reading, may be a bike that stands topped out."""
LEAST_DAMPING_PERCENT = 1.0
"""A smaller change of damping than this is finer than any clicker."""
_SOFTER = mark("softer, wound up")
AXLES: Mapping[str, str] = {"front": mark("front axle"), "rear": mark("rear axle")}


@dataclass(frozen=True)
class Side:
    """What is said of one end at one stage: calc's result, verdict, picture, and why something is not
    there.
    """

    result: dict[str, Any] | None
    verdict: Verdict
    picture: str | None = None
    problems: tuple[Problem, ...] = ()
    missing: tuple[str, ...] = ()
    label: str = ""
    request: dict[str, Any] | None = field(default=None, repr=False)
    damping: dict[str, Any] | None = None
    overall_n_per_mm: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the side as the plain mapping that the API answers."""
        return {
            "result": self.result,
            "verdict": self.verdict.as_dict(),
            "picture": self.picture,
            "damping": self.damping,
            "overall_n_per_mm": self.overall_n_per_mm,
            "problems": [problem.as_dict() for problem in self.problems],
            "missing": list(self.missing),
        }


@dataclass(frozen=True)
class Ground:
    """What a side rests on beside its springs, read off the card once: which end and stage, the sag bands, the range
    of the adjuster, the accepted correction, the fork's chambers, and whether the rider's share of the load is assumed.
    """

    end: str
    stage: str
    targets: Targets | None
    adjuster_mm: Sequence[float] | None
    correction: Mapping[str, Any] | None
    chambers: str | None
    share_assumed: bool


@dataclass(frozen=True)
class Asked:
    """One end's request to calc, and what it lacks to be computed."""

    request: dict[str, Any]
    missing: tuple[str, ...]


def setting_of(card: JobCard, stage: str, end: str) -> Setting | None:
    """Return the saved setting of a stage and end, or None."""
    return next((one for one in card.settings.all() if one.stage == stage and one.end == end), None)


def body_of(card: JobCard, stage: str, end: str) -> dict[str, Any] | None:
    """Return the body of the saved setting of a stage and end, or None."""
    found = setting_of(card, stage, end)
    return None if found is None else found.body


def ask(card: JobCard, stage: str, end: str, body: Mapping[str, Any]) -> Asked:
    """Return the request that calc evaluates `body` of `end` with, under the loads of `stage`, and what is
    missing.
    """
    fixed = measured.end_data(card, end) or {}
    request = bodies.as_request(fixed, body, end)
    kind = measured.kind_of(card, end)
    if "unsprung_kg" not in request and kind is not None:
        request["unsprung_kg"] = kind.unsprung_kg
    if end == "front":
        request["altitude_m"] = card.altitude_m
    loads = measured.loads_of(card, "built" if stage == "built" else "received", end)
    if loads is not None:
        request |= {"load_static_kg": loads.static_kg, "load_rider_kg": loads.rider_kg}
    return Asked(request, _missing_loads(card, stage, end, loads))


def side(
    card: JobCard,
    stage: str,
    end: str,
    body: Mapping[str, Any] | None,
    against: Sequence[tuple[str, Side]] = (),
    writing: Mapping[str, Any] | None = None,
) -> Side:
    """Return what is said of `end` with `body` (saved or not) at `stage`; `against` are sides drawn beside
    it, their numbers written as `writing` says (`setups.writing`).
    """
    targets = measured.targets_of(card, end)
    read = _measured_sags(card, stage, end)
    if not measured.has_end(card, end):
        nothing = Verdict("unknown", say("This card has no {end} end.", end=say(end)), "none")
        return Side(None, nothing, missing=(say("a {end} end: the card is about a loose part", end=say(end)),))
    if body is None:
        verdict = judge(end, read or Sags(None, None, False), targets, _plain_reach(card, end, read))
        return Side(
            None,
            verdict,
            missing=(say(
                "how the {end} stands {stage_labels}: springs, preload and the rest",
                end=say(end), stage_labels=say(STAGE_LABELS[stage]),
            ),),
        )
    asked = ask(card, stage, end, body)
    result, problems, blanks = _evaluated(asked.request, end, card)
    missing = (*asked.missing, *blanks)
    if result is None:
        verdict = judge(end, read or Sags(None, None, False), targets, _plain_reach(card, end, read, body))
        return Side(
            None, verdict, None, problems, missing, rates_of(body, end), overall_n_per_mm=_overall(body, end)
        )
    ground = ground_of(card, stage, end)
    shown = corrected(ground.correction, result, travel_of(asked.request))
    apart = _disagreements(card, stage, end, shown, read)
    found = told(ground, asked.request, result, read, apart)
    found = replace(found, problems=problems, missing=missing, overall_n_per_mm=_overall(body, end))
    return beside(found, ground, against, writing)


def ground_of(card: JobCard, stage: str, end: str) -> Ground:
    """Return what the sides of `end` at `stage` rest on, springs apart."""
    fixed = measured.end_data(card, end) or {}
    loads = measured.loads_of(card, "built" if stage == "built" else "received", end)
    return Ground(
        end,
        stage,
        measured.targets_of(card, end),
        fixed.get("adjuster_mm"),
        correction_of(card, end),
        fixed.get("chambers") if end == "front" else None,
        loads is not None and loads.origin == measured.ASSUMED_SHARE,
    )


def travel_of(request: Mapping[str, Any]) -> float:
    """Return the full travel in mm of an end as calc takes it, along the axis that its sags are read on."""
    return float(request.get("stroke_mm") or request.get("wheel_travel_mm") or math.inf)


def told(
    ground: Ground,
    request: Mapping[str, Any],
    plain: Mapping[str, Any],
    read: Sags | None = None,
    apart: Sequence[Mapping[str, Any]] = (),
) -> Side:
    """Return the side of an end whose `request` calc answered with `plain`: corrected, judged, not drawn.

    `read` are measured sags; `apart` are the notes that they differ from the computed ones.
    """
    end = ground.end
    result = corrected(ground.correction, plain, travel_of(request))
    result["notes"] = [*_about_chambers(ground, result["notes"]), *apart]
    shown = read or Sags(result["static_sag_mm"], result["rider_sag_mm"], False)
    reach = _model_reach(request, end, plain, shown)
    verdict = judge(end, shown, ground.targets, reach, _adjuster(ground, request))
    if verdict.code != "unknown":
        verdict = hedged(verdict, _doubts(ground, bool(apart), read))
    return Side(result, verdict, label=rates_of(request, end), request=dict(request))


def beside(
    side: Side,
    ground: Ground,
    against: Sequence[tuple[str, Side]],
    writing: Mapping[str, Any] | None = None,
    held: Layout | None = None,
) -> Side:
    """Return a computed side with its picture, the sides of `against` drawn beside it, and what it asks of the
    damper.
    """
    was = next((one.result for role, one in against if role == "received"), None)
    damping = None if was is None or side.result is None else damping_to_match(was, side.result)
    wanted = drawing(ground.end, [*against, (ground.stage, side)], side.verdict.text, writing)
    svg = _drawn(json.dumps(wanted), here()) if held is None else picture(wanted, held)
    return replace(side, picture=svg, damping=damping)


def damping_to_match(was: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, Any] | None:
    """Return how much more rebound damping keeps its ratio, in per cent and in a sentence; None where the wheel rate
    is as before.
    """
    before, after = was["wheel_rate_n_per_mm"], now["wheel_rate_n_per_mm"]
    if before <= 0 or after <= 0:
        return None
    change = 100 * (growth(before, after) - 1)
    if abs(change) < LEAST_DAMPING_PERCENT:
        return None
    text = say(
        "The wheel rate {word} from {before:.3g} to {after:.3g} N/mm: start with about {change:.0f} % {word2} "
        "rebound damping. A starting point, no more: how many clicks that is, only the damper tells, and the "
        "test ride decides.",
        word=say("rises") if change > 0 else say("falls"),
        before=before,
        after=after,
        change=abs(change),
        word2=say("more") if change > 0 else say("less"),
    )
    return {"percent": round(change, 1), "text": text}


@dataclass(frozen=True)
class Worked:
    """One end of a card as calc was asked about it, its result (None: not computed), and why it is not there."""

    request: dict[str, Any]
    result: dict[str, Any] | None
    problems: tuple[Problem, ...]
    missing: tuple[str, ...]


def worked(card: JobCard, stage: str, end: str, body: Mapping[str, Any]) -> Worked:
    """Return what calc is asked and answers about `body` of `end` at `stage`, without verdict or picture."""
    asked = ask(card, stage, end, body)
    result, problems, blanks = _evaluated(asked.request, end, card)
    return Worked(asked.request, result, problems, (*asked.missing, *blanks))


def problems_of(card: JobCard, stage: str, end: str, body: Mapping[str, Any]) -> tuple[Problem, ...]:
    """Return what calc finds wrong with `body` at `stage`, such as a spring that goes solid; blanks are not
    wrong.
    """
    return _evaluated(ask(card, stage, end, body).request, end, card)[1]


def computed(card: JobCard, stage: str, end: str) -> dict[str, Any] | None:
    """Return calc's own result of a saved setting, without any correction; None where it cannot be computed."""
    body = body_of(card, stage, end)
    return None if body is None else _evaluated(ask(card, stage, end, body).request, end, card)[0]


def rate_read_along(card: JobCard, stage: str, end: str) -> float | None:
    """Return the rate in N/mm along the axis that sags are read on, at rider sag; None where not computed.

    Rear: the wheel rate. Front: along the fork, the wheel rate times cos² of the rake.
    """
    body = body_of(card, stage, end)
    if body is None:
        return None
    request = ask(card, stage, end, body).request
    result = _evaluated(request, end, card)[0]
    if result is None:
        return None
    tilt = math.cos(math.radians(request["rake_deg"])) if end == "front" else 1.0
    return float(result["wheel_rate_n_per_mm"] * tilt**2)


def sides(card: JobCard, writing: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Return, by stage and end, what is said of every saved setting, and the pictures of preload being no
    cure.
    """
    found: dict[str, dict[str, Side]] = {stage: {} for stage in STAGES}
    for end in measured.ENDS:
        against: list[tuple[str, Side]] = []
        for stage in STAGES:
            one = side(card, stage, end, body_of(card, stage, end), against, writing)
            found[stage][end] = one
            if one.result is not None:
                against.append((stage, one))
    return {**found, "preload_no_cure": {end: no_cure(end, found, writing) for end in measured.ENDS}}


def preview(
    card: JobCard,
    end: str,
    body: Mapping[str, Any],
    stage: str,
    against: str | None,
    writing: Mapping[str, Any] | None = None,
) -> Side:
    """Return what is said of an unsaved `body` of `end`, drawn beside the saved setting of the stage
    `against`.
    """
    try:
        bodies.check_setting(body, end, stage, measured.end_data(card, end))
    except Refusal as refusal:
        unknown = Verdict("unknown", say("Not recalculated: something typed cannot be right."), "measure")
        return Side(None, unknown, problems=tuple(refusal.problems))
    against_it: list[tuple[str, Side]] = []
    if against is not None and against != stage:
        other = side(card, against, end, body_of(card, against, end))
        if other.result is not None:
            against_it.append((against, other))
    return side(card, stage, end, body, against_it, writing)


def drawing(
    end: str,
    shown: Sequence[tuple[str, Side]],
    description: str,
    writing: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """Return what calc draws of one or more computed sides, each with the role that its stage has."""
    leading = shown[-1][1]
    request = leading.request or {}
    traces = [
        {
            "role": role,
            "label": say(STAGE_LABELS.get(role, _SOFTER)) + f": {retold(one.label)}",
            "curve": (one.result or {})["curve"],
            "static_sag_mm": (one.result or {})["static_sag_mm"],
            "rider_sag_mm": (one.result or {})["rider_sag_mm"],
        }
        for role, one in shown
    ]
    return {
        "end": end,
        "title": say("Fork: force at the wheel over travel")
        if end == "front"
        else say("Rear: force at the wheel over travel"),
        "description": retold(description),
        "traces": traces,
        "load_static_n": sprung_load(request, "static"),
        "load_rider_n": sprung_load(request, "rider"),
        **(writing or {}),
    }


def held_layout(ground: Ground, side: Side, against: Sequence[tuple[str, Side]], writing: Mapping[str, Any]) -> Layout:
    """Return the layout of a side's picture, for others to be drawn in while a hand drags it."""
    return layout(drawing(ground.end, [*against, (ground.stage, side)], "", writing))


@lru_cache(maxsize=256)
def _drawn(request: str, _language: str) -> str:
    """Return the picture of a request in JSON, its words in the language in use.

    Placing them is the dearest part of a card, and most stay as they are.
    """
    return picture(json.loads(request))


def no_cure(
    end: str, found: Mapping[str, Mapping[str, Side]], writing: Mapping[str, Any] | None = None
) -> str | None:
    """Return the picture of the leading setting beside a softer spring wound up to the same rider sag, or
    None.
    """
    for stage in ("built", "chosen", "received"):
        one = found[stage][end]
        if one.result is not None and one.request is not None:
            break
    else:
        return None
    compared = softer(end, one.request, one.result)
    if compared is None:
        return None
    soft, text = compared
    label = say("{preload} mm preload", preload=printed.preload(soft["preload_mm"]))
    wound = Side(soft, one.verdict, label=label, request=one.request)
    wanted = drawing(end, [("soft_wound_up", wound), (stage, one)], text, writing)
    return _drawn(json.dumps(wanted), here())


def label_of(body: Mapping[str, Any], end: str) -> str:
    """Return a setting's springs and preload in a few words: "4.6 N/mm, 10 mm preload"."""
    return _worded(body, end, with_preload=True)


def rates_of(body: Mapping[str, Any], end: str) -> str:
    """Return a setting's springs alone, short enough to stand in a picture: "4.6 N/mm"."""
    return _worded(body, end, with_preload=False)


def _overall(body: Mapping[str, Any], end: str) -> float | None:
    """Return the overall rate of a tested spring in the shock, or in the first leg that has one."""
    return overall_rate(next((one["spring"] for one in springed(body, end)), None))


def _worded(body: Mapping[str, Any], end: str, *, with_preload: bool) -> str:
    """Return what the legs or the shock hold, those that hold the same said once."""
    words = []
    carriers, sprung = holders(body, end), springed(body, end)
    for holder in sprung or carriers:
        spring, preload = holder.get("spring"), holder.get("preload_mm")
        wound = with_preload and spring and preload is not None
        words.append(rate_words(spring) + (say(", {preload:g} mm preload", preload=preload) if wound else ""))
    told = say(" and ").join(dict.fromkeys(words))
    return say("{springs}, one leg", springs=told) if 0 < len(sprung) < len(carriers) else told


def _missing_loads(card: JobCard, stage: str, end: str, loads: Loads | None) -> tuple[str, ...]:
    if loads is not None:
        return ()
    readings = {**measured.counting(card, "received", end), **measured.counting(card, "built", end)}
    missing = []
    if "axle_alone_kg" not in readings:
        missing.append(say("load of the bike alone at the {axles}", axles=say(AXLES[end])))
    if "axle_rider_kg" not in readings and (card.rider is None or card.rider.mass_in_kit_kg is None):
        missing.append(say("rider load at the {axles}", axles=say(AXLES[end])))
    return tuple(missing)


def _evaluated(
    request: Mapping[str, Any], end: str, card: JobCard
) -> tuple[dict[str, Any] | None, tuple[Problem, ...], tuple[str, ...]]:
    """Return calc's result, or the problems and the names of the blanks that stand in its way."""
    try:
        return dict(evaluate({end: request})[end]), (), ()
    except Refusal as refusal:
        absent = [problem for problem in refusal.problems if is_blank(problem, request, end)]
        wrong = tuple(placed(problem, end, card) for problem in refusal.problems if problem not in absent)
        names = [blank_name(problem, end) for problem in absent if ".load_" not in problem.field]
        return None, wrong, tuple(dict.fromkeys(names))


def is_blank(problem: Problem, request: Mapping[str, Any], end: str) -> bool:
    """Return whether a problem of calc's is only that something is not known yet."""
    if problem.code in ("missing", "no_spring"):
        return True
    top = problem.field.removeprefix(f"{end}.").split(".")[0]
    return top in ("leverage", "legs") and not request.get(top)


def blank_name(problem: Problem, end: str) -> str:
    """Return what is not known yet, in words: "the air gap"."""
    if problem.code == "no_spring":
        return say("a spring in a fork leg") if end == "front" else say("the shock's spring")
    if problem.code != "missing":
        return say("the leverage") if "leverage" in problem.field else say("the fork's legs")
    # What a sentence begins with a capital has its own spelling within one: a German noun keeps it.
    name = problem.text.partition(say(" is missing"))[0]
    return next((band.named for band in BANDS.values() if capital(band.named) == name), name[:1].lower() + name[1:])


def placed(problem: Problem, end: str, card: JobCard) -> Problem:
    """Return the problem with its field where the technician finds it: in the setting, the bike or the
    readings.
    """
    inner = problem.field.removeprefix(f"{end}.")
    top, last = inner.split(".")[0], inner.rsplit(".", 1)[-1]
    if last in ("load_static_kg", "load_rider_kg"):
        return replace(problem, field="readings." + ("axle_alone_kg" if last == "load_static_kg" else "axle_rider_kg"))
    kept = bodies.tube_field(inner)
    if kept == inner and top in ("legs", "spring", "preload_mm", "gas_force_n", *bodies.VENTING):
        return replace(problem, field=inner)
    holder = f"bike.{end}" if card.bike is not None else f"loose_{end}"
    return replace(problem, field=f"{holder}.{kept}")


def _measured_sags(card: JobCard, stage: str, end: str) -> Sags | None:
    if stage == "chosen":
        return None
    found, _ = measured.sag_or_problems(card, stage, end)
    if found is None or (found["static_sag_mm"] is None and found["rider_sag_mm"] is None):
        return None
    return Sags(found["static_sag_mm"], found["rider_sag_mm"], True)


def _disagreements(
    card: JobCard, stage: str, end: str, result: Mapping[str, Any], read: Sags | None
) -> list[dict[str, Any]]:
    """Return a note for each sag that was measured and computed too far apart to be the tape's fault."""
    found, _ = measured.sag_or_problems(card, stage, end) if read is not None else (None, [])
    if found is None:
        return []
    notes = []
    for name in ("static", "rider"):
        value = found[f"{name}_sag_mm"]
        if value is None:
            continue
        found_mm, computed_mm = printed.whole(value), printed.whole(result[f"{name}_sag_mm"])
        apart = value - result[f"{name}_sag_mm"]
        explained = (found.get(f"{name}_band_mm") or 0.0) + 2 * (found.get(f"{name}_u_mm") or 1.0)
        if abs(apart) > max(3.0, explained):
            text = say(
                "Measured {name} sag is {value} mm, computed {result} mm: {apart} mm apart. Check "
                "the spring's stamp, the preload, the loads, {word} and friction.",
                name=say(name),
                value=found_mm,
                result=computed_mm,
                apart=abs(found_mm - computed_mm),
                word=say("the oil and air") if end == "front" else say("the leverage"),
            )
            notes.append(Note("measured_differs", "warning", text, round(apart, 1), "mm").as_dict())
    return notes


_CHAMBERS: Mapping[str, str] = {"twin": mark("twin chambers"), "closed_cartridge": mark("a closed cartridge")}


def _about_chambers(ground: Ground, notes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the notes with what is known of the fork's chambers in the place of calc's general remark."""
    said = ground.chambers
    if said is None:
        return notes
    kept = [note for note in notes if note["code"] != "outer_chamber_only"]
    if said not in _CHAMBERS:
        return kept
    text = say(
        "This fork has {chambers}. Its inner volumes are not entered, so only the outer chamber's change is "
        "given: differences between settings hold, absolute forces near the stop do not.",
        chambers=say(_CHAMBERS[said]),
    )
    return [*kept, Note("outer_chamber_only", "warning", text).as_dict()]


def _adjuster(ground: Ground, request: Mapping[str, Any]) -> Adjuster | None:
    preload = next((holder["preload_mm"] for holder in springed(request, ground.end)), None)
    return None if preload is None else Adjuster(preload, ground.adjuster_mm)


def springed(body: Mapping[str, Any], end: str) -> list[Mapping[str, Any]]:
    """Return what carries a spring in a setting's body or calc's request: the legs that have one, or the shock."""
    return [holder for holder in holders(body, end) if holder.get("spring")]


def holders(body: Mapping[str, Any], end: str) -> list[Mapping[str, Any]]:
    """Return what may carry a spring in a setting's body or calc's request: its legs, or the shock."""
    return [body] if end == "rear" else list(body.get("legs") or [])


def _doubts(ground: Ground, apart: bool, read: Sags | None) -> list[str]:
    """Return why a verdict should be taken with care: the technician acts on its sentence, not on the notes."""
    doubts = []
    if apart:
        doubts.append(say("measured and computed sags differ: find out why first"))
    if read is None and ground.share_assumed:
        doubts.append(say("the rider's share of the load is assumed, so weigh it or read the sag to be sure"))
    return doubts


def _plain_reach(
    card: JobCard, end: str, read: Sags | None, body: Mapping[str, Any] | None = None
) -> Any:
    """Return what a change of preload does where nothing can be computed: both sags move by the same length.

    Front: one millimetre of preload, one of sag. Rear: one of preload, as many of sag as the leverage ratio.
    Air, gas and a changing leverage are left out, as the trade does (common practice, no source). Preload is
    backed off no further than `body` says it has; from a topped-out bike nobody can tell what that gives.
    """
    ratio = 1.0
    if end == "rear":
        leverage = (measured.end_data(card, end) or {}).get("leverage") or {}
        if leverage.get("kind") == "ratio":
            ratio = leverage.get("wheel_per_shock") or math.nan
        elif leverage.get("kind") == "table" and leverage.get("shock_mm"):
            ratio = leverage["wheel_mm"][-1] / leverage["shock_mm"][-1]
        else:
            ratio = math.nan
    preloads = [one["preload_mm"] for one in springed(body or {}, end) if one.get("preload_mm") is not None]
    least = -max(0.0, min(preloads)) if preloads else -math.inf

    def reach(wanted_mm: float) -> Reached | None:
        if read is None or read.rider_mm is None or read.static_mm is None or math.isnan(ratio):
            return None
        change = max((read.rider_mm - wanted_mm) / ratio, least)
        if change < 0 and read.static_mm < TOPPED_OUT_MM:
            return None
        shift = -change * ratio
        return Reached(change, max(0.0, read.static_mm + shift), read.rider_mm + shift)

    return reach


def _model_reach(request: Mapping[str, Any], end: str, result: Mapping[str, Any], shown: Sags) -> Any:
    """Return what a change of preload does as calc computes it, shifted by what was measured otherwise."""
    rider_off = 0.0 if shown.rider_mm is None else shown.rider_mm - result["rider_sag_mm"]
    static_off = 0.0 if shown.static_mm is None else shown.static_mm - result["static_sag_mm"]
    preloads = [holder["preload_mm"] for holder in springed(request, end)]
    limits = (-max(0.0, min(preloads, default=0.0)), BANDS["adjuster_mm"].high - max(preloads, default=0.0))
    winding = Winding(request, end)

    def reach(wanted_mm: float) -> Reached:
        found = winding.to(wanted_mm - rider_off, limits)
        return Reached(found.by_mm, max(0.0, found.static_mm + static_off), found.rider_mm + rider_off)

    return reach
