"""Turns a sealed public document into the words and rows that the PDF and the customer's page lay out.

Nothing is computed here that a reader could not do on paper from two printed numbers; everything else was
sealed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from calc.fork import bore_mm
from calc.linkage import POINTS, ROCKER_POINTS
from setups.record.document import END_WORDS, ENDS
from setups.sag_corrections import short
from setups.springs import STAMP, rate_words

CALCULATED = "calculated"
ADJUSTERS = {
    "rebound": "Rebound",
    "compression": "Compression",
    "high_speed_compression": "Fast compression",
}
COUNTED = {"fully_in": "out", "fully_out": "in"}
"""Which way a clicker was counted: out from fully in, or in from fully out."""
LEGS = ("left", "right")
READ_PAIRS = {
    "free": ("wheel_free_mm",),
    "alone": ("alone_from_above_mm", "alone_from_below_mm"),
    "with rider": ("rider_from_above_mm", "rider_from_below_mm"),
}
CHAMBERS = {
    "one": "one: all of the air is above the oil",
    "twin": "twin: only the outer chamber's change is given",
    "closed_cartridge": "closed cartridge: only the outer chamber's change is given",
}
READING_WORDS = {"received": "as received", "built": "measured again"}


@dataclass(frozen=True)
class Cell:
    """One figure, with its unit, and where it comes from."""

    text: str
    source: str = ""


@dataclass(frozen=True)
class Row:
    """One line of the table before and after: `target` is the wanted band, `key` the term that the page
    explains."""

    name: str
    before: Cell
    after: Cell
    target: str = ""
    key: str = ""

    @property
    def changed(self) -> bool:
        """Tell whether the job changed it."""
        return bool(self.before.text) and bool(self.after.text) and self.before.text != self.after.text


NONE = Cell("")


def number(value: float, digits: int = 3) -> str:
    """Write a number with at most `digits` significant figures, never as a power of ten, a true minus before
    it."""
    rounded = float(f"{value:.{digits}g}")
    text = f"{rounded:.6f}".rstrip("0").rstrip(".") if abs(rounded) < 10_000 else f"{rounded:,.0f}".replace(",", " ")
    return text.replace("-", "−")


def whole(value: float) -> str:
    """Write a length to the millimetre, as finely as it can be read on a bike."""
    return f"{value:.0f}".replace("-", "−")


def typed(value: float) -> str:
    """Write a number as it was typed: every digit, no more."""
    text = repr(float(value)).removesuffix(".0")
    return text.replace("-", "−")


def origin(source: Mapping[str, Any] | None) -> str:
    """Say where a fact comes from; what nobody said is assumed."""
    if source is None:
        return "assumed"
    if source["from"] != "manual":
        return str(source["from"])
    edition, page = source.get("edition"), source.get("page")
    return "manual" + (f", {edition}" if edition else "") + (f", p. {page}" if page else "")


def spring_words(spring: Mapping[str, Any] | None) -> str:
    """Name a spring by its rates."""
    if spring is None:
        return "no spring"
    kind = spring["kind"]
    if kind == "straight":
        return f"{typed(spring['rate_n_per_mm'])} N/mm"
    if kind == "dual":
        soft, hard = typed(spring["soft_n_per_mm"]), typed(spring["hard_n_per_mm"])
        return f"{soft}, from {typed(spring['change_mm'])} mm {hard} N/mm"
    if kind == "progressive":
        return (
            f"{typed(spring['start_n_per_mm'])} rising to {typed(spring['end_n_per_mm'])} N/mm "
            f"over {typed(spring['over_mm'])} mm"
        )
    stamped = spring.get(STAMP)
    return rate_words(spring) + (f", stamped {typed(stamped)}" if stamped is not None else "")


def table(document: Mapping[str, Any], end: str) -> list[Row]:
    """Return one end's lines before and after, as read and set; empty when the record says nothing about
    that end."""
    before, after = (document["settings"][stage][end] for stage in ("received", "built"))
    after = after or document["settings"]["chosen"][end]
    rows = _sag_rows(document, end)
    if before or after:
        rows += _spring_rows(before, after, end) + _other_rows(before, after, end)
    return [row for row in rows if row.before.text or row.after.text]


def _sag_rows(document: Mapping[str, Any], end: str) -> list[Row]:
    targets = (document["targets"] or {}).get(end) or {}
    rows = []
    for key, name in (("static_sag_mm", "Static sag"), ("rider_sag_mm", "Rider sag")):
        band = targets.get(key)
        target = f"{typed(round(band[0], 1))} to {typed(round(band[1], 1))} mm" if band else ""
        cells = [_sag_cell(document, stage, end, key) for stage in ("received", "built")]
        rows.append(Row(name, cells[0], cells[1], target, key.removesuffix("_mm")))
    return rows


def _sag_cell(document: Mapping[str, Any], stage: str, end: str, key: str) -> Cell:
    measured = ((document["sag"].get(stage) or {}).get(end) or {}).get(key)
    if measured is not None:
        spread = document["sag"][stage][end].get(key.replace("_sag_mm", "_u_mm"))
        give = f" ± {typed(round(spread, 1))}" if spread else ""
        return Cell(f"{typed(round(measured, 1))}{give} mm", "measured")
    result = document["results"][stage][end]
    return Cell(f"{number(result[key])} mm", _calculated(document, end, key.partition("_")[0])) if result else NONE


def _calculated(document: Mapping[str, Any], end: str, sag: str) -> str:
    """Say that a sag was calculated, and what earlier jobs on this model corrected it by."""
    correction = (document.get("corrections") or {}).get(end)
    return CALCULATED if correction is None else f"{CALCULATED}, {short(correction, sag)}"


def rider_sag(document: Mapping[str, Any], stage: str, end: str) -> tuple[float, str] | None:
    """Return the rider sag in mm that holds for a stage, and whether it was measured or calculated."""
    measured = ((document["sag"].get(stage) or {}).get(end) or {}).get("rider_sag_mm")
    if measured is not None:
        return measured, "measured"
    result = document["results"][stage][end]
    return (result["rider_sag_mm"], CALCULATED) if result else None


def _per_leg(body: Mapping[str, Any] | None, key: str, write: Any) -> Cell:
    """Write one value for both legs when they are alike, else each with its leg."""
    if not body:
        return NONE
    sources = body.get("sources") or {}
    legs = body.get("legs") or []
    texts = [write(leg) for leg in legs]
    froms = [origin(sources.get(f"legs.{place}.{key}")) for place in range(len(legs))]
    if not any(texts):
        return NONE
    if len(set(texts)) == 1:
        return Cell(texts[0], " / ".join(dict.fromkeys(froms)))
    named = [f"{leg}: {text or '–'}" for leg, text in zip(LEGS, texts, strict=False)]
    return Cell("; ".join(named), " / ".join(dict.fromkeys(froms)))


def _mm(holder: Mapping[str, Any], key: str) -> str:
    return "" if holder.get(key) is None else f"{typed(holder[key])} mm"


def _named_spring(holder: Mapping[str, Any]) -> str:
    words, label = spring_words(holder.get("spring")), holder.get("label")
    if not label or not holder.get("spring"):
        return words
    return str(label) if "N/mm" in label else f"{words} ({label})"


def _spring_rows(before: Any, after: Any, end: str) -> list[Row]:
    if end == "rear":
        return [
            _row("Spring", "spring", before, after, "spring", _named_spring, "spring"),
            _row(
                "Preload",
                "preload",
                before,
                after,
                "preload_mm",
                lambda body: _mm(body, "preload_mm"),
                "preload",
            ),
        ]
    writers = {
        "Spring": ("spring", _named_spring, "spring"),
        "Preload": ("preload_mm", lambda leg: _mm(leg, "preload_mm"), "preload"),
        "Spacer": ("spacer_mm", lambda leg: _mm(leg, "spacer_mm"), ""),
        "Air gap": ("air_gap_mm", lambda leg: _mm(leg, "air_gap_mm"), "air_gap"),
        "Air pressure": ("pressure_kpa", _pressure, ""),
    }
    each = ", per leg" if len(((after or before).get("legs")) or []) == 2 else ""
    return [
        Row(name + each, _per_leg(before, key, write), _per_leg(after, key, write), key=term)
        for name, (key, write, term) in writers.items()
    ]


def _pressure(leg: Mapping[str, Any]) -> str:
    return f"{typed(leg['pressure_kpa'])} kPa" if leg.get("pressure_kpa") else ""


def _row(name: str, key: str, before: Any, after: Any, source: str, write: Any, term: str = "") -> Row:
    cells = [
        Cell(write(body), origin((body.get("sources") or {}).get(source))) if body and write(body) else NONE
        for body in (before, after)
    ]
    return Row(name, cells[0], cells[1], key=term or key)


def _other_rows(before: Any, after: Any, end: str) -> list[Row]:
    rows = []
    if end == "front":
        rows.append(_row("Oil", "oil", before, after, "oil_grade", _oil))
        rows.append(
            _row(
                "Tubes above clamp",
                "fork_height",
                before,
                after,
                "fork_height_mm",
                lambda b: _mm(b, "fork_height_mm"),
            )
        )
    else:
        rows.append(
            _row(
                "Ride height",
                "ride_height",
                before,
                after,
                "ride_height_mm",
                lambda b: _mm(b, "ride_height_mm"),
            )
        )
    rows += _clicker_rows(before, after)
    rows.append(_row("Tyre, cold", "tyre", before, after, "tyre_pressure_kpa", _tyre, "tyre_pressure"))
    return rows


def _oil(body: Mapping[str, Any]) -> str:
    volume = f"{typed(body['oil_cm3_per_leg'])} cm³ per leg" if body.get("oil_cm3_per_leg") is not None else ""
    batch = f"batch {body['oil_batch']}" if body.get("oil_batch") else ""
    return ", ".join(part for part in (body.get("oil_grade") or "", batch, volume) if part)


def _tyre(body: Mapping[str, Any]) -> str:
    kpa = body.get("tyre_pressure_kpa")
    return "" if kpa is None else f"{typed(kpa)} kPa ({number(kpa / 100)} bar)"


def _clicker_rows(before: Any, after: Any) -> list[Row]:
    """Return a line for each adjuster, in the order in which they were entered."""
    found: dict[tuple[str, str], list[Cell]] = {}
    for place, body in enumerate((before, after)):
        for clicker in (body or {}).get("clickers") or []:
            cells = found.setdefault((clicker["adjuster"], clicker.get("leg") or ""), [NONE, NONE])
            if clicker.get("position") is not None:
                text = f"{typed(clicker['position'])} {clicker['unit']} {COUNTED[clicker['counted_from']]}"
                cells[place] = Cell(text, "counted")
    return [
        Row(ADJUSTERS[adjuster] + (f", {leg} leg" if leg in LEGS else ""), cells[0], cells[1], key=adjuster)
        for (adjuster, leg), cells in found.items()
    ]


def results(document: Mapping[str, Any], end: str) -> list[Row]:
    """Return one end's computed lines before and after: each is the result for the springs as they stood."""
    writers = (
        ("breakaway_n", "First moves at", "N", "breakaway"),
        ("wheel_rate_n_per_mm", "Wheel rate", "N/mm", "wheel_rate"),
        ("full_stroke_n", "Force at the stop", "N", "full_stroke"),
        ("energy_to_stop_j", "Energy to the stop", "J", "energy"),
        ("solid_clearance_mm", "Spring clearance", "mm", "clearance"),
    )
    rows = []
    for key, name, unit, term in writers:
        cells = []
        for stage in ("received", "built"):
            value = (document["results"][stage][end] or {}).get(key)
            cells.append(NONE if value is None else Cell(f"{number(value)} {unit}", CALCULATED))
        rows.append(Row(name, cells[0], cells[1], key=term))
    return [row for row in rows if row.before.text or row.after.text]


def spring_work(document: Mapping[str, Any]) -> list[str]:
    """Say leg by leg and for the shock what was changed: spring, preload, gap, oil."""
    said = []
    before, after = (document["settings"][stage]["front"] for stage in ("received", "built"))
    if before and after:
        bore = _bore(document)
        work = [_leg_work(old, new, bore) for old, new in zip(before["legs"], after["legs"], strict=False)]
        names = LEGS if len(work) == 2 else ("single",)
        if len(work) == 2 and work[0] == work[1]:
            work, names = work[:1], ("each",)
        said += [f"Fork, {name} leg: {'; '.join(done)}." for name, done in zip(names, work, strict=True)]
        if oil := _oil(after):
            said.append(f"Fork oil: {oil}.")
        said += _outer_chamber(document)
    before, after = (document["settings"][stage]["rear"] for stage in ("received", "built"))
    if before and after:
        said.append(
            "Shock: " + "; ".join(_change("preload", before, after, "preload_mm", _spring_change(before, after))) + "."
        )
    return said


def _outer_chamber(document: Mapping[str, Any]) -> list[str]:
    """Say of a fork with chambers of its own what its figures leave out, as it was sealed with them."""
    notes = [
        note["text"]
        for stage in ("received", "built")
        for note in (document["results"][stage]["front"] or {}).get("notes", ())
        if note["code"] == "outer_chamber_only" and note["severity"] == "warning"
    ]
    return notes[:1]


def _spring_change(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    was, now = spring_words(old.get("spring")), _named_spring(new)
    return [f"spring {was} kept"] if spring_words(new.get("spring")) == was else [f"spring {now} instead of {was}"]


def _bore(document: Mapping[str, Any]) -> float | None:
    """Return the bore in mm where the air gap is read; None where nobody gave it."""
    holder = document["bike"] or document["loose"] or {}
    fork = holder.get("front") or {}
    if fork.get("pour") is None:
        bore: float | None = fork.get("bore_diameter_mm")
        return bore
    return float(f"{bore_mm(fork):.4g}")


def _leg_work(old: Mapping[str, Any], new: Mapping[str, Any], bore_mm: float | None) -> list[str]:
    said = _change("preload", old, new, "preload_mm", _spring_change(old, new))
    said = _change("spacer cut to", old, new, "spacer_mm", said)
    said = _change("air gap, spring out and fork collapsed,", old, new, "air_gap_mm", said)
    rise = (old.get("air_gap_mm") or 0) - (new.get("air_gap_mm") or 0)
    if rise and bore_mm and None not in (old.get("air_gap_mm"), new.get("air_gap_mm")):
        # The oil's level follows its volume over the bore's area, spring out: whatever the springs displace.
        volume = math.pi / 4 * bore_mm**2 * abs(rise) / 1000
        said[-1] += f", {number(volume, 2)} cm³ {'more' if rise > 0 else 'less'} oil in a bore of {typed(bore_mm)} mm"
    return _change("volume of spring, spacer and cap", old, new, "solids_cm3", said)


def _change(name: str, old: Mapping[str, Any], new: Mapping[str, Any], key: str, said: list[str]) -> list[str]:
    """Add to `said` how one value stands now, and what it was where it differs."""
    now, was = new.get(key), old.get(key)
    if now is None:
        return said
    text = f"{name} {typed(now)}{unit(key)}"
    return [*said, text if was in (None, now) else f"{text} (was {typed(was)})"]


def load_cases(document: Mapping[str, Any]) -> list[str]:
    """Say end by end which preload each load case needs; empty where the record holds none (older ones do not)."""
    preloads = (document.get("load_cases") or {}).get("preloads") or {}
    said = []
    for end in ENDS:
        for case in (preloads.get(end) or {}).get("cases", []):
            text = f"{END_WORDS[end].capitalize()}, {case['label']}: {typed(round(case['set_to_mm'], 1))} mm of preload"
            if not case["in_band"]:
                text += ", the nearest that its adjuster gives"
            said.append(f"{text}, for a rider sag of {whole(case['rider_sag_mm'])} mm.")
    return said


def verdicts(document: Mapping[str, Any], end: str) -> dict[str, str]:
    """Return the sentence of verdict before and after; empty where there is none."""
    said = {stage: (document["verdicts"][stage][end] or {}).get("text", "") for stage in ("received", "built")}
    if document["settings"]["received"][end] and not document["settings"]["built"][end]:
        said["built"] = "Not worked on: it stands as it was received."
    return said


def feel(document: Mapping[str, Any], end: str) -> list[str]:
    """Say in plain words what differs in the riding, from the sealed results before and after."""
    before, after = (document["results"][stage][end] for stage in ("received", "built"))
    if not before or not after:
        return []
    part = f"The {END_WORDS[end]}"
    said = []
    sags = [rider_sag(document, stage, end) for stage in ("received", "built")]
    if sags[0] and sags[1] and sags[0][1] == sags[1][1] and abs(sag := sags[1][0] - sags[0][0]) >= 2:
        way = "higher" if sag < 0 else "lower"
        left = "more" if sag < 0 else "less"
        said.append(
            f"{part} now carries you {whole(abs(sag))} mm {way} in its travel, with {left} of it left for bumps."
        )
    said += _percent(
        before,
        after,
        "wheel_rate_n_per_mm",
        part + " is {percent} % {stiffer} around the height you ride at.",
    )
    said += _percent(before, after, "full_stroke_n", "It takes {percent} % {more} force to push it all the way in.")
    return said


def _percent(before: Mapping[str, Any], after: Mapping[str, Any], key: str, sentence: str) -> list[str]:
    change = 100 * (after[key] / before[key] - 1) if before[key] and after[key] else 0.0
    if abs(change) < 3:
        return []
    more = change > 0
    return [
        sentence.format(
            percent=whole(abs(change)),
            stiffer="stiffer" if more else "softer",
            more="more" if more else "less",
        )
    ]


def readings(document: Mapping[str, Any]) -> list[str]:
    """Return the raw lengths that count, one phrase for each end and stage, and who read them, with what and
    when."""
    zone = document["shop"]["time_zone"]
    lengths = [one for one in document["readings"] if one["counts"]]
    said = []
    for stage, stage_words in READING_WORDS.items():
        for end in ENDS:
            values = {
                one["quantity"]: typed(one["value"]) for one in lengths if (one["stage"], one["end"]) == (stage, end)
            }
            pairs = [
                f"{name} {' / '.join(found)}"
                for name, quantities in READ_PAIRS.items()
                if (found := [values[quantity] for quantity in quantities if quantity in values])
            ]
            if pairs:
                said.append(f"{END_WORDS[end].capitalize()} {stage_words}: {', '.join(pairs)}.")
    readers = dict.fromkeys(_reader(one, zone) for one in lengths)
    return [*said, f"Read by {'; '.join(readers)}."] if said else []


def _reader(reading: Mapping[str, Any], zone: str) -> str:
    parts = (reading["taken_by_name"], reading["instrument"], when(reading["taken_at"], zone, short=True))
    return ", ".join(part for part in parts if part)


def sources(document: Mapping[str, Any]) -> list[str]:
    """Say where the bike's own figures come from, one line for each origin."""
    bike = document["bike"] or document["loose"]
    grouped: dict[str, list[str]] = {}
    for end in ENDS:
        for key, value in sorted((bike[end] or {}).items()):
            if key in ("legs", "spring", "preload_mm", "gas_force_n") or value is None:
                continue
            name = f"{END_WORDS[end]} {words(key)} {_fact(key, value)}"
            grouped.setdefault(origin((bike.get("sources") or {}).get(f"{end}.{key}")), []).append(name)
    return [f"{where[:1].upper()}{where[1:]}: {'; '.join(names)}." for where, names in grouped.items()]


UNIT_TAILS = {
    "_n_per_mm": "N/mm",
    "_mm": "mm",
    "_kg": "kg",
    "_cm3": "cm³",
    "_kpa": "kPa",
    "_deg": "°",
    "_nm": "N·m",
    "_n": "N",
}


def words(key: str) -> str:
    """Write a field's name as words, its unit left out."""
    for tail in UNIT_TAILS:
        if key.endswith(tail):
            return key.removesuffix(tail).replace("_", " ")
    return key.replace("_", " ")


def unit(key: str) -> str:
    """Return the unit that ends a field's name; empty when it has none."""
    return next((f" {name}" for tail, name in UNIT_TAILS.items() if key.endswith(tail)), "").replace(" °", "°")


def _fact(key: str, value: Any) -> str:
    if key == "leverage":
        if value["kind"] == "ratio":
            return f"{typed(value['wheel_per_shock'])} mm at the wheel for 1 mm at the shock"
        return _linkage(value) if value["kind"] == "linkage" else _pairs(value)
    if key == "pour":
        return f"{typed(value['cm3'])} cm³ raise the oil {typed(value['rise_mm'])} mm"
    if key == "chambers":
        return CHAMBERS[value]
    if isinstance(value, list):
        return " to ".join(typed(one) for one in value) + unit(key)
    if isinstance(value, dict):
        return ", ".join(f"{words(name)} {typed(one)}{unit(name)}" for name, one in value.items())
    return f"{typed(value)}{unit(key)}"


def _pairs(leverage: Mapping[str, Any]) -> str:
    read = leverage.get("readings")
    if not read:
        return f"table of {len(leverage.get('wheel_mm', ()))} measured pairs (in the attached file)"
    return f"table smoothed from {len(read['wheel_mm'])} measured pairs (both in the attached file)"


def _linkage(leverage: Mapping[str, Any]) -> str:
    points = len(POINTS) + (len(ROCKER_POINTS) if leverage.get("rocker") else 0)
    reach = leverage.get("reach_mm")
    said = f"linkage of {points} points" + (f", reach 0 to {whole(reach)} mm" if reach is not None else "")
    return f"{said} (in the attached file)"


def when(text: str | None, zone: str, *, with_time: bool = False, short: bool = False) -> str:
    """Write a sealed moment as the shop's own date, with the time and zone, or the month cut short, where
    asked."""
    if not text:
        return ""
    at = datetime.fromisoformat(text)
    if at.tzinfo is not None:
        at = at.astimezone(ZoneInfo(zone))
    day = f"{at.day} {at:%b %Y}" if short else f"{at.day} {at:%B %Y}"
    return f"{day}, {at:%H:%M} {at.tzname()}" if with_time else day


def amendment_words(document: Mapping[str, Any], change: Mapping[str, Any]) -> str:
    """Name the amended place as a reader knows it: "torques, front axle nut: value"."""
    parts = str(change["path"]).split(".")
    names: list[str] = []
    found: Any = document
    for part in parts[:-1]:
        found = found[int(part)] if isinstance(found, list) else found[part]
        if part.isdigit():
            label = next(
                (found[key] for key in ("fastener", "description", "label", "part_label") if found.get(key)),
                None,
            )
            names.append(str(label or f"line {int(part) + 1}"))
        else:
            names.append(words(part))
    return f"{', '.join(names)}: {words(parts[-1])}" if names else words(parts[-1])


def amended_value(path: str, value: Any) -> str:
    """Write an amended value with its unit."""
    if value is None or value == "":
        return "nothing"
    key = path.rsplit(".", 1)[-1]
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{typed(value)}{unit(key)}" if isinstance(value, int | float) else str(value)


def cautions_by_word(cautions: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the cautions, the gravest signal word first (ANSI Z535.6: DANGER, WARNING, CAUTION, NOTICE)."""
    order = ("DANGER", "WARNING", "CAUTION", "NOTICE")
    return sorted(cautions, key=lambda one: order.index(one["word"]))
