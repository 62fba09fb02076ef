"""Choosing from the shop's own spring list, and what fitting one means: preload, gap, spacer.

The ranking is calc's; here the list is fetched, and stock, room and spacer are put beside it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

from calc import printed
from calc.choose import choose
from calc.gap import gap, spacer_length
from calc.needed import needed
from calc.refusal import Note, Problem, Refusal
from calc.words import say
from setups import bodies, measured, sums
from setups.measured import Targets
from setups.models import JobCard
from setups.sag_corrections import correction_of, model_band
from setups.springs import overall_rate, plain
from setups.sure import Judgement, judged
from shops.access import everywhere
from shops.models import StockSpring
from shops.refusals import wrong

Row = dict[str, Any]


@dataclass(frozen=True)
class Choice:
    """The shop's springs ranked for one end, and what was wanted; or why that could not be done."""

    targets: Targets | None
    ranked: tuple[Row, ...] = ()
    needed: dict[str, Any] | None = None
    present: dict[str, Any] | None = None
    notes: tuple[dict[str, Any], ...] = ()
    problems: tuple[Problem, ...] = ()
    missing: tuple[str, ...] = field(default=())

    def as_dict(self) -> dict[str, Any]:
        """Return the choice as the plain mapping that the API answers."""
        return {
            "targets": self.targets.as_dict() if self.targets else None,
            "needed": self.needed,
            "present": self.present,
            "ranked": list(self.ranked),
            "notes": list(self.notes),
            "problems": [problem.as_dict() for problem in self.problems],
            "missing": list(self.missing),
        }


def springs_of(card: JobCard, end: str) -> list[StockSpring]:
    """Return the spring list of the card's own shop for `end`."""
    found = everywhere(StockSpring, why="the list of the shop whose card is already held")
    return list(found.filter(shop_id=card.shop_id, end=end))


def base_body(card: JobCard, end: str) -> dict[str, Any]:
    """Return the setting that a choice starts from: as received, else the bike's own data."""
    return sums.body_of(card, "received", end) or bodies.received_body(measured.end_data(card, end), end)


def ranked(card: JobCard, end: str) -> Choice:
    """Return the shop's springs for `end`, the best for this rider first."""
    targets = measured.targets_of(card, end)
    body = base_body(card, end)
    now = sums.side(card, "received", end, body)
    present = {"label": sums.label_of(body, end), "result": now.result, "verdict": now.verdict.as_dict()}
    missing = now.missing if targets is not None else (*now.missing, say("the sag bands to aim at"))
    springs = springs_of(card, end)
    if not springs:
        missing = (*missing, say("springs for the {end} in the shop's spring list", end=say(end)))
    if missing or targets is None:
        return Choice(targets, present=present, problems=now.problems, missing=missing)
    request = sums.ask(card, "received", end, body).request
    data = measured.end_data(card, end) or {}
    asked = _request(card, end, request, targets, data, body, springs)
    try:
        found = choose(asked)
    except Refusal as refusal:
        return Choice(targets, present=present, problems=refusal.problems and tuple(refusal.problems))
    by_id = {spring.pk: spring for spring in springs}
    rows = [_row(row, by_id[row["id"]], data, body, end) for row in found["ranked"]]
    notes = [*_weighed(rows, judged(card, end, asked, body, rows), found["notes"]), *_loose_notes(now)]
    rows.sort(key=_place)  # stable: calc's order stands among equals
    return Choice(targets, tuple(rows), _needed(card, end, request, targets, data), present, tuple(notes))


def _weighed(rows: Sequence[Row], judgement: Judgement | None, notes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give the rows the probabilities of `judgement`, and return the notes that go with them."""
    if judgement is None:
        return notes
    for row in rows:
        row["probability"] = judgement.probability.get(row["id"], row["probability"])
    return [*(note.as_dict() for note in judgement.notes), *(n for n in notes if n["code"] != "probability_basis")]


def _place(row: Row) -> tuple[bool, bool, int, bool]:
    """Return where a row stands: what goes in first, what suits, the surest, what lies on the shelf.

    Chances within some 5 % are equals: no shop's readings tell them apart, so the shelf decides.
    """
    return row["fits"] is False, row["verdict"] != "suits", -round(row["probability"] * 20), row["stock"] == 0


def fitted(card: JobCard, end: str, spring: StockSpring, preload_mm: float | None) -> dict[str, Any]:
    """Return the setting body with `spring` fitted at `end`.

    Without `preload_mm` the preload is the one that reaches the rider sag aimed at. Every leg that carries a
    spring gets it; the gap is corrected for what the springs displace, where both volumes are known.
    """
    body = deepcopy(sums.body_of(card, "chosen", end) or base_body(card, end))
    data = measured.end_data(card, end) or {}
    preload = _preload(card, end, spring) if preload_mm is None else preload_mm
    if end == "rear":
        return (
            body
            | {
                "spring": spring.curve,
                "stock_spring": spring.pk,
                "label": _label(spring),
                "preload_mm": preload,
            }
            | _sources(body, ("spring", "preload_mm"), spring)
        )
    # The oil belongs to the spring that came in: a second choice must not correct the gap twice.
    came = base_body(card, end)["legs"]
    paths = []
    for number, leg in enumerate(body["legs"]):
        if leg.get("spring") is None:
            continue
        old = came[number] if number < len(came) else leg
        leg |= {
            "spring": spring.curve,
            "stock_spring": spring.pk,
            "label": _label(spring),
            "preload_mm": preload,
            "spacer_mm": _spacer(data, spring, preload),
            **_oil(card, data, old, spring),
        }
        paths += [f"legs.{number}.{key}" for key in ("spring", "preload_mm", "spacer_mm", "air_gap_mm", "solids_cm3")]
    return body | _sources(body, paths, spring)


def _label(spring: StockSpring) -> str:
    return f"{spring.code} {spring.label}".strip()


def _sources(body: Mapping[str, Any], paths: Sequence[str], spring: StockSpring) -> dict[str, Any]:
    """Return the sources with the chosen values' own: the spring's stamp or test, and what was computed for it."""
    known = "stamped" if spring.tested is None else "measured"
    own = {path: {"from": known if path.endswith("spring") else "computed"} for path in paths}
    return {"sources": {**(body.get("sources") or {}), **own}}


def _preload(card: JobCard, end: str, spring: StockSpring) -> float:
    choice = ranked(card, end)
    row = next((row for row in choice.ranked if row["id"] == spring.pk), None)
    if row is not None:
        return printed.halves(float(row["preload_mm"]))
    if choice.problems:
        raise Refusal(*choice.problems)
    lacking = "; ".join(choice.missing) or say("the spring is not in this shop's list")
    text = say("The preload cannot be computed yet, type it: missing is {lacking}.", lacking=lacking)
    raise wrong("preload_mm", "preload_unknown", text)


def _request(
    card: JobCard,
    end: str,
    request: Mapping[str, Any],
    targets: Targets,
    data: Mapping[str, Any],
    body: Mapping[str, Any],
    springs: Sequence[StockSpring],
) -> dict[str, Any]:
    asked: dict[str, Any] = {
        end: request,
        "target_static_sag_mm": [targets.static.low, targets.static.high],
        "target_rider_sag_mm": [targets.rider.low, targets.rider.high],
        "springs": [_candidate(spring) for spring in springs],
    }
    if data.get("adjuster_mm") is not None:
        asked["adjuster_mm"] = data["adjuster_mm"]
    if correction := correction_of(card, end):
        asked["correction"] = correction
    old = None if end == "rear" else _displaced(card, next((leg for leg in body["legs"] if leg.get("spring")), {}))
    if old is not None:
        asked["displaced_cm3"] = old
    return asked


def _candidate(spring: StockSpring) -> dict[str, Any]:
    row: dict[str, Any] = {"id": spring.pk, "label": spring.label, "spring": plain(spring.curve)}
    if spring.displaced_cm3 is not None:
        row["displaced_cm3"] = spring.displaced_cm3
    return row


def _displaced(card: JobCard, leg: Mapping[str, Any]) -> float | None:
    """Return what the leg's spring displaces, where it came from a spring list of the business that says so.

    A setting may name any id: another business's spring must tell no more than one that was taken off a list.
    """
    if leg.get("stock_spring") is None:
        return None
    found = (
        everywhere(StockSpring, why="a spring named in a setting already held")
        .filter(pk=leg["stock_spring"], shop__business_id=card.business_id)
        .first()
    )
    return None if found is None else found.displaced_cm3


def _row(row: Row, spring: StockSpring, data: Mapping[str, Any], body: Mapping[str, Any], end: str) -> Row:
    return {
        **row,
        "overall_n_per_mm": overall_rate(row["spring"]),
        "stock": spring.stock,
        "code": spring.code,
        "batch": spring.batch,
        "outer_diameter_mm": spring.outer_diameter_mm,
        "free_length_mm": spring.free_length_mm,
        "spacer_mm": _spacer(data, spring, printed.halves(row["preload_mm"])) if end == "front" else None,
        "fits": fits(data, spring, row["preload_mm"], end),
    }


def _spacer(data: Mapping[str, Any], spring: StockSpring, preload_mm: float) -> float | None:
    """Return the spacer to cut in mm, None where a length is unknown or the spring is too long for one."""
    if data.get("seat_length_mm") is None or spring.free_length_mm is None:
        return None
    cut = spacer_length(
        data["seat_length_mm"], spring.free_length_mm, preload_mm, data.get("washers_mm") or 0.0
    )
    return round(cut, 1) if cut >= 0 else None


def fits(data: Mapping[str, Any], spring: StockSpring, preload_mm: float, end: str) -> bool | None:
    """Return whether the spring goes in, as far as its and the bike's sizes tell; None where they do not."""
    known = []
    if end == "front":
        if data.get("spring_outer_max_mm") is not None and spring.outer_diameter_mm is not None:
            known.append(spring.outer_diameter_mm <= data["spring_outer_max_mm"])
        if data.get("seat_length_mm") is not None and spring.free_length_mm is not None:
            known.append(_spacer(data, spring, preload_mm) is not None)
    elif data.get("spring_inner_min_mm") is not None and spring.inner_diameter_mm is not None:
        known.append(spring.inner_diameter_mm >= data["spring_inner_min_mm"])
    return all(known) if known else None


def _oil(
    card: JobCard, data: Mapping[str, Any], leg: Mapping[str, Any], spring: StockSpring
) -> dict[str, Any]:
    """Return the leg's gap and solids with the new spring in, as far as both springs' volumes are known."""
    old, new = _displaced(card, leg), spring.displaced_cm3
    known = all(value is not None for value in (old, new, leg.get("air_gap_mm"), leg.get("solids_cm3")))
    bore = {key: data[key] for key in ("bore_diameter_mm", "pour") if data.get(key) is not None}
    if not known or not bore or old is None or new is None:
        return {key: leg.get(key) for key in ("air_gap_mm", "solids_cm3")}
    solids = leg["solids_cm3"] - old + new
    found = gap(
        {
            "use": "swap",
            **bore,
            "air_gap_mm": leg["air_gap_mm"],
            "solids_old_cm3": leg["solids_cm3"],
            "solids_new_cm3": solids,
            "read_with": bodies.SPRING_OUT,
        }
    )
    return {"air_gap_mm": round(found["air_gap_mm"], 1), "solids_cm3": round(solids, 1)}


def _needed(
    card: JobCard, end: str, request: Mapping[str, Any], targets: Targets, data: Mapping[str, Any]
) -> dict[str, Any] | None:
    """Return the straight spring that would meet the middles of both bands, or None where calc refuses to
    say.
    """
    correction = correction_of(card, end)
    static = model_band((targets.static.low, targets.static.high), correction, "static")
    rider = model_band((targets.rider.low, targets.rider.high), correction, "rider")
    asked = {**request, "target_static_sag_mm": sum(static) / 2, "target_rider_sag_mm": sum(rider) / 2}
    if data.get("adjuster_mm") is not None:
        asked["adjuster_mm"] = data["adjuster_mm"]
    try:
        return dict(needed({end: asked})[end])
    except Refusal:
        return None


def _loose_notes(now: sums.Side) -> list[dict[str, Any]]:
    """Return a note where the computed sags differ from the measured: the ranking leans on the same
    inputs.
    """
    notes = (now.result or {}).get("notes", [])
    if not any(note["code"] == "measured_differs" for note in notes):
        return []
    text = say(
        "What was measured and what is computed as received differ; the ranking rests on the same inputs: mend "
        "them first.",
    )
    return [Note("ranking_doubtful", "warning", text).as_dict()]
