"""Checks of the plain mappings that bikes and settings are kept as, before they are saved.

A blank (absent or null) is accepted anywhere: it is listed as missing when something is computed. What is
typed must be believable, must fit together, and must be a field that we know: nothing is rounded or dropped
in silence. Bands and couplings of what calc takes are calc's own; here are those of the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.bands import BANDS, Band
from calc.checks import TEMPERATURES, Findings, check_front, check_rear
from calc.refusal import Problem
from calc.words import mark, say
from setups import leverage, springs
from setups.shapes import check_choice, check_number, join, shape

ORIGINS = ("measured", "stamped", "manual", "assumed")
"""Where a fact that somebody states may come from."""
KEPT_ORIGINS = (*ORIGINS, "computed")
"""The same, and what fitting a spring works out: nobody states that, and a reading replaces it."""
ADJUSTERS = ("rebound", "compression", "high_speed_compression")
LEGS = ("left", "right", "both", "")
CLICK_UNITS = ("clicks", "turns")
COUNTED_FROM = ("fully_in", "fully_out")
SPRING_OUT, SPRING_IN = "spring_out", "spring_in"
CHAMBERS = ("one", "twin", "closed_cartridge")
"""What of a fork's air is above the oil: all of it, or only that of the outer chamber."""
VENTING = ("vented_altitude_m", *TEMPERATURES)
"""Where and how warm the fork was when it was last shut, and how warm it is ridden."""

OWN_BANDS: Mapping[str, Band] = {
    "seat_length_mm": Band(mark("the length from cap to spring seat at full extension"), "mm", 50, 1200),
    "washers_mm": Band(mark("the washers' height"), "mm", 0, 60),
    "spring_outer_max_mm": Band(mark("the room for the spring's outer diameter"), "mm", 10, 120),
    "spring_inner_min_mm": Band(mark("the spring's least inner diameter"), "mm", 10, 120),
    "spring_length_mm": Band(mark("the spring's free length"), "mm", 50, 900),
    "spacer_mm": Band(mark("the spacer's length"), "mm", 0, 600),
    "fork_height_mm": Band(mark("the fork's height above the clamp"), "mm", -20, 80),
    "tyre_pressure_kpa": Band(mark("the tyre pressure"), "kPa", 20, 500),
    "oil_cm3_per_leg": Band(mark("the oil in one leg"), "cm³", 0, 3000),
    "ride_height_mm": Band(mark("the ride height adjustment"), "mm", -60, 60),
    "position": Band(mark("the clicker's position"), "", 0, 100),
}
"""Set wide of what is met in a workshop (common practice, no source)."""

LAST_ID = 2**63 - 1
"""The largest id that a database holds."""

_STOPS = ("topout", "bump")
_END_FIELDS: Mapping[str, tuple[str, ...]] = {
    "front": (
        "stroke_mm",
        "rake_deg",
        "unsprung_kg",
        "seal_diameter_mm",
        "bore_diameter_mm",
        "pour",
        "chambers",
        "seat_length_mm",
        "washers_mm",
        "adjuster_mm",
        "spring_outer_max_mm",
        "spring_length_mm",
        "legs",
        *_STOPS,
    ),
    "rear": (
        "wheel_travel_mm",
        "unsprung_kg",
        "shocks",
        "leverage",
        "adjuster_mm",
        "spring_inner_min_mm",
        "spring_length_mm",
        "spring",
        "preload_mm",
        "gas_force_n",
        *_STOPS,
    ),
}
_LEG_FIELDS = ("spring", "preload_mm", "air_gap_mm", "solids_cm3", "pressure_kpa")
_SET_LEG_FIELDS = (*_LEG_FIELDS, "stock_spring", "label", "gap_read_with", "spacer_mm")
_SHARED_FIELDS = ("clickers", "tyre_pressure_kpa", "sources")
_SETTING_FIELDS: Mapping[str, tuple[str, ...]] = {
    "front": ("legs", "fork_height_mm", "oil_grade", "oil_batch", "oil_cm3_per_leg", *VENTING, *_SHARED_FIELDS),
    "rear": (
        "spring",
        "stock_spring",
        "label",
        "preload_mm",
        "gas_force_n",
        "ride_height_mm",
        *_SHARED_FIELDS,
    ),
}
_ROOT = "@"


def check_end(data: Any, end: str, path: str) -> None:
    """Refuse a bike's (or a loose part's) data of one end, kept at `path` ("front", "loose_front").

    Raises Refusal with every problem found; None is accepted: nothing is known yet.
    """
    if data is None:
        return
    findings = Findings()
    if shape(findings, data, path, _END_FIELDS[end]):
        for key in (
            "seat_length_mm",
            "washers_mm",
            "spring_outer_max_mm",
            "spring_inner_min_mm",
            "spring_length_mm",
        ):
            check_number(findings, data, key, path, OWN_BANDS[key])
        _adjuster(findings, data.get("adjuster_mm"), f"{path}.adjuster_mm")
        sound = (
            _springs_shapes(findings, data, path, _LEG_FIELDS)
            if end == "front"
            else springs.check_shape(findings, data.get("spring"), f"{path}.spring")
        )
        sound = _stop_shapes(findings, data, path) and _other_shapes(findings, data, path) and sound
        if sound:
            request = as_request(data, data, end)
            _couplings(findings, request, end, path)
            _past_adjuster(findings, data, data.get("adjuster_mm"), end, path)
    findings.raise_any()


def check_sources(sources: Any, path: str = "sources") -> None:
    """Refuse a mapping that should say, by dotted path, where each fact comes from."""
    findings = Findings()
    _sources(findings, sources, path)
    findings.raise_any()


def check_setting(body: Any, end: str, stage: str, fixed: Mapping[str, Any] | None, path: str = "") -> None:
    """Refuse a setting body of `end` at `stage` (received, chosen or built).

    `fixed` is the end's data of the bike. A spring that goes solid within the stroke is accepted here, since
    a bike may come in like that; computing says so and it blocks sealing. Raises Refusal with every problem
    found, their fields relative to the body, after `path`.
    """
    findings = Findings()
    if shape(findings, body, path, _SETTING_FIELDS[end]):
        _common(findings, body, path)
        if end == "front":
            sound = _front_setting(findings, body, path)
        else:
            check_number(findings, body, "ride_height_mm", path, OWN_BANDS["ride_height_mm"])
            _stock(findings, body, path)
            if "spring" not in body:
                findings.add(
                    join(path, "spring"),
                    "missing",
                    say("Give the shock's spring, or null where it is not known."),
                )
            sound = springs.check_shape(findings, body.get("spring"), join(path, "spring"))
        if sound:
            data = fixed or {}
            _couplings(
                findings,
                as_request(data, body, end),
                end,
                path,
                own=("legs", "spring", "preload_mm", "gas_force_n", *VENTING),
            )
            _past_adjuster(findings, body, data.get("adjuster_mm"), end, path)
            if stage != "received":
                _loose(findings, body, end, path)
    findings.raise_any()


def as_request(fixed: Mapping[str, Any], body: Mapping[str, Any], end: str) -> dict[str, Any]:
    """Return one end as calc takes it, loads left out: the bike's `fixed` data and a setting's `body`
    together.

    Blanks are left out, so that calc names them or takes its own default.
    """
    if end == "front":
        keys = ("stroke_mm", "rake_deg", "unsprung_kg", *_STOPS)
        tube = _given(fixed, ("seal_diameter_mm", "bore_diameter_mm"))
        if fixed.get("pour") is not None:
            tube["pour"] = _given(fixed["pour"], ("cm3", "rise_mm"))
        legs = [
            {"spring": springs.plain(leg.get("spring")), **tube, **_given(leg, _LEG_FIELDS[1:])}
            for leg in body.get("legs") or []
        ]
        return {**_given(fixed, keys), **_given(body, VENTING), "legs": legs}
    rear_keys = ("wheel_travel_mm", "unsprung_kg", "shocks", *_STOPS)
    held = fixed.get("leverage")
    return {
        **_given(fixed, rear_keys),
        **({} if held is None else {"leverage": leverage.plain(held)}),
        "spring": springs.plain(body.get("spring")),
        **_given(body, ("preload_mm", "gas_force_n")),
    }


def received_body(fixed: Mapping[str, Any] | None, end: str) -> dict[str, Any]:
    """Return the setting body that a card starts from: the bike's own data, every value marked as assumed."""
    data = fixed or {}
    if end == "rear":
        return {
            "spring": data.get("spring"),
            "stock_spring": None,
            "label": "",
            "preload_mm": data.get("preload_mm"),
            "gas_force_n": data.get("gas_force_n"),
            "clickers": [],
            "ride_height_mm": None,
            "tyre_pressure_kpa": None,
            "sources": {
                key: {"from": "assumed"}
                for key in ("spring", "preload_mm", "gas_force_n")
                if data.get(key) is not None
            },
        }
    legs = list(data.get("legs") or [{}, {}])
    return {
        "legs": [
            {
                **{key: leg.get(key) for key in _LEG_FIELDS},
                "stock_spring": None,
                "label": "",
                "gap_read_with": SPRING_OUT,
                "spacer_mm": None,
            }
            for leg in legs
        ],
        "clickers": [],
        "fork_height_mm": None,
        "tyre_pressure_kpa": None,
        "oil_grade": "",
        "oil_cm3_per_leg": None,
        "sources": {
            f"legs.{number}.{key}": {"from": "assumed"}
            for number, leg in enumerate(legs)
            for key in _LEG_FIELDS
            if leg.get(key) is not None
        },
    }


def _given(holder: Mapping[str, Any], keys: Sequence[str]) -> dict[str, Any]:
    return {key: holder[key] for key in keys if holder.get(key) is not None}


def _text(findings: Findings, holder: Mapping[str, Any], key: str, path: str, longest: int = 200) -> None:
    value = holder.get(key)
    if value is None:
        return
    if not isinstance(value, str):
        findings.add(join(path, key), "not_text", say("Give a text here."), value)
    elif len(value) > longest:
        findings.add(
            join(path, key),
            "too_long",
            say("The text has {count} characters; at most {longest} fit.", count=len(value), longest=longest),
            len(value),
        )


def _springs_shapes(findings: Findings, holder: Mapping[str, Any], path: str, fields: Sequence[str]) -> bool:
    legs = holder.get("legs")
    if legs is None:
        return True
    where = join(path, "legs")
    if isinstance(legs, str) or not isinstance(legs, Sequence) or not 1 <= len(legs) <= 2:
        findings.add(where, "legs", say("A fork has one or two legs; give each its own entry."))
        return False
    sound = True
    for number, leg in enumerate(legs):
        at = f"{where}.{number}"
        sound = (
            shape(findings, leg, at, fields)
            and springs.check_shape(findings, leg.get("spring"), f"{at}.spring")
            and sound
        )
    return sound


def _stop_shapes(findings: Findings, data: Mapping[str, Any], path: str) -> bool:
    sound = True
    for key in _STOPS:
        if data.get(key) is not None:
            sound = shape(findings, data[key], join(path, key), ("rate_n_per_mm", "length_mm")) and sound
    return sound


def _other_shapes(findings: Findings, data: Mapping[str, Any], path: str) -> bool:
    if data.get("chambers") is not None:
        check_choice(findings, data, "chambers", path, CHAMBERS)
    poured = data.get("pour") is None or shape(findings, data["pour"], join(path, "pour"), ("cm3", "rise_mm"))
    return leverage.check_shape(findings, data.get("leverage"), join(path, "leverage")) and poured


def _adjuster(findings: Findings, limits: Any, path: str) -> None:
    if limits is None:
        return
    if isinstance(limits, str) or not isinstance(limits, Sequence) or len(limits) != 2:
        findings.add(
            path, "range", say("Give the adjuster's range as two lengths: least and most preload, in mm.")
        )
        return
    low, high = (
        findings.value(value, f"{path}.{index}", BANDS["adjuster_mm"]) for index, value in enumerate(limits)
    )
    if low is not None and high is not None and high < low:
        findings.add(
            path,
            "range",
            say(
                "The adjuster's range ends at {high:g} mm, below its start at {low:g} mm: swapped?",
                high=high, low=low,
            ),
            high,
        )


def _common(findings: Findings, body: Mapping[str, Any], path: str) -> None:
    check_number(findings, body, "tyre_pressure_kpa", path, OWN_BANDS["tyre_pressure_kpa"])
    _sources(findings, body.get("sources", {}), join(path, "sources"))
    clickers = body.get("clickers") or []
    where = join(path, "clickers")
    if isinstance(clickers, str) or not isinstance(clickers, Sequence) or len(clickers) > 12:
        findings.add(where, "clickers", say("Give the clickers as a list of at most 12."))
        return
    for number, clicker in enumerate(clickers):
        at = f"{where}.{number}"
        if shape(findings, clicker, at, ("adjuster", "leg", "position", "unit", "counted_from")):
            check_choice(findings, clicker, "adjuster", at, ADJUSTERS)
            check_choice(findings, {"leg": clicker.get("leg", "")}, "leg", at, LEGS)
            check_number(findings, clicker, "position", at, OWN_BANDS["position"])
            check_choice(findings, clicker, "unit", at, CLICK_UNITS)
            check_choice(findings, clicker, "counted_from", at, COUNTED_FROM)


def _sources(findings: Findings, sources: Any, path: str) -> None:
    if not isinstance(sources, Mapping):
        findings.add(
            path, "not_an_object", say("Give an object: for each field's path, where its value comes from.")
        )
        return
    for key, source in sources.items():
        at = f"{path}.{key}"
        if shape(findings, source, at, ("from", "edition", "page")):
            check_choice(findings, source, "from", at, KEPT_ORIGINS)
            _text(findings, source, "edition", at)
            _text(findings, source, "page", at, 40)


def _stock(findings: Findings, holder: Mapping[str, Any], path: str) -> None:
    _text(findings, holder, "label", path)
    stock = holder.get("stock_spring")
    if stock is not None and (
        isinstance(stock, bool) or not isinstance(stock, int) or not 0 < stock <= LAST_ID
    ):
        findings.add(
            join(path, "stock_spring"),
            "not_an_id",
            say("Choose a line of the spring list, or none."),
            None,
        )


def _front_setting(findings: Findings, body: Mapping[str, Any], path: str) -> bool:
    for key in ("fork_height_mm", "oil_cm3_per_leg"):
        check_number(findings, body, key, path, OWN_BANDS[key])
    _text(findings, body, "oil_grade", path, 120)
    _text(findings, body, "oil_batch", path, 40)
    if body.get("legs") is None:
        findings.add(join(path, "legs"), "legs", say("A fork has one or two legs; give each its own entry."))
        return False
    if not _springs_shapes(findings, body, path, _SET_LEG_FIELDS):
        return False
    for number, leg in enumerate(body["legs"]):
        at = join(path, f"legs.{number}")
        _stock(findings, leg, at)
        check_number(findings, leg, "spacer_mm", at, OWN_BANDS["spacer_mm"])
        _gap_reading(findings, leg, at)
    return True


def _gap_reading(findings: Findings, leg: Mapping[str, Any], path: str) -> None:
    how = leg.get("gap_read_with", SPRING_OUT)
    if how == SPRING_IN:
        findings.add(
            join(path, "gap_read_with"),
            "gap_spring_in",
            say(
                "An air gap read with the spring in is no air gap: the spring lifts the oil. Take the spring "
                "out, collapse the fork, bleed the damper and read it again.",
            ),
            how,
        )
    elif how != SPRING_OUT:
        check_choice(findings, leg, "gap_read_with", path, (SPRING_OUT, SPRING_IN))


def _couplings(
    findings: Findings, request: Mapping[str, Any], end: str, path: str, own: Sequence[str] | None = None
) -> None:
    """Let calc check the end, and keep what it says of what is given: blanks are not at fault yet.

    `own` limits the problems kept to those of the named top fields: the bike's facts were checked with the
    bike.
    """
    found = Findings()
    if end == "front":
        check_front(found, request, _ROOT, bind=False)
    else:
        check_rear(found, request, _ROOT, bind=False)
    for problem in found.problems:
        field = problem.field.removeprefix(f"{_ROOT}.")
        if problem.code in ("missing", "no_spring") or _absent(field, request):
            continue
        if own is None:
            field = tube_field(field)
        elif field.split(".")[0] not in own or field != tube_field(field):
            continue
        moved = Problem(
            join(path, field),
            problem.code,
            problem.text,
            problem.value,
            problem.unit,
            problem.low,
            problem.high,
        )
        if moved not in findings.problems:
            findings.problems.append(moved)


def _absent(field: str, request: Mapping[str, Any]) -> bool:
    top = field.split(".", maxsplit=1)[0]
    return top in ("leverage", "legs") and not request.get(top)


def tube_field(field: str) -> str:
    """Return where a leg's tube diameters, or the pour in a diameter's place, are kept: once, with the fork."""
    *_, holder, last = ("", *field.split("."))
    if last in ("seal_diameter_mm", "bore_diameter_mm", "pour"):
        return last
    return f"pour.{last}" if holder == "pour" else field


def _preloads(body: Mapping[str, Any], end: str, path: str) -> list[tuple[str, float]]:
    """Return the path and value of every preload that is a number and has a spring to act on."""
    holders = [(path, body)]
    if end == "front":
        holders = [(join(path, f"legs.{number}"), leg) for number, leg in enumerate(body.get("legs") or [])]
    return [
        (join(at, "preload_mm"), holder["preload_mm"])
        for at, holder in holders
        if holder.get("spring") is not None
        and isinstance(holder.get("preload_mm"), int | float)
        and not isinstance(holder["preload_mm"], bool)
    ]


def _past_adjuster(findings: Findings, body: Mapping[str, Any], limits: Any, end: str, path: str) -> None:
    if (
        not isinstance(limits, Sequence)
        or len(limits) != 2
        or not all(isinstance(limit, int | float) and BANDS["adjuster_mm"].holds(limit) for limit in limits)
    ):
        return
    low, high = limits
    for field, preload in _preloads(body, end, path):
        # A spring found loose was never set by the adjuster: that is a warning, or refused, in its own words.
        if preload >= 0 and not low <= preload <= high and BANDS["adjuster_mm"].holds(preload):
            text = say(
                "{preload:g} mm of preload is past the adjuster, which gives {low:g} to {high:g} mm. Another "
                "spacer or spring moves that range: change it with the bike's data first.",
                preload=preload, low=low, high=high,
            )
            findings.problems.append(Problem(field, "past_adjuster", text, preload, "mm", low, high))


def _loose(findings: Findings, body: Mapping[str, Any], end: str, path: str) -> None:
    for field, preload in _preloads(body, end, path):
        if BANDS["adjuster_mm"].low <= preload < 0:
            text = say(
                "{preload:g} mm of preload leaves the spring loose at full extension, where it can rattle and "
                "slip off its seat. Build with 0 mm or more; if the sag then comes out too small, the spring is "
                "too stiff.",
                preload=preload,
            )
            findings.problems.append(Problem(field, "negative_preload", text, preload, "mm", 0, None))
