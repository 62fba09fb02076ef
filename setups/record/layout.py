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

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from calc import printed
from calc.fork import bore_mm
from calc.linkage import POINTS, ROCKER_POINTS
from setups.field_words import field_words, unit_of
from setups.figures import bare, converts, figure, figures, number, retold, to, told, typed, whole
from setups.record.document import END_WORDS, ENDS
from setups.sag_corrections import short
from setups.springs import STAMP, rate_words
from shops import days

ADJUSTERS = {
    "rebound": gettext_lazy("Rebound"),
    "compression": gettext_lazy("Compression"),
    "high_speed_compression": gettext_lazy("Fast compression"),
}
COUNTED = {
    ("clicks", "fully_in"): gettext_lazy("{n} clicks out"),
    ("clicks", "fully_out"): gettext_lazy("{n} clicks in"),
    ("turns", "fully_in"): gettext_lazy("{n} turns out"),
    ("turns", "fully_out"): gettext_lazy("{n} turns in"),
}
"""Which way a clicker was counted: out from fully in, or in from fully out."""
ORIGINS = {
    "measured": gettext_lazy("measured"),
    "stamped": gettext_lazy("stamped"),
    "manual": gettext_lazy("manual"),
    "assumed": gettext_lazy("assumed"),
    "computed": gettext_lazy("computed"),
}
LEGS = ("left", "right")
OF_LEG = {"left": gettext_lazy("left: {value}"), "right": gettext_lazy("right: {value}")}
ADJUSTER_OF_LEG = {"left": gettext_lazy("{adjuster}, left leg"), "right": gettext_lazy("{adjuster}, right leg")}
WORK_ON = {
    "left": gettext_lazy("Fork, left leg: {work}."),
    "right": gettext_lazy("Fork, right leg: {work}."),
    "each": gettext_lazy("Fork, each leg: {work}."),
    "single": gettext_lazy("Fork, single leg: {work}."),
}
READ_PAIRS = {
    ("wheel_free_mm",): gettext_lazy("free {lengths}"),
    ("alone_from_above_mm", "alone_from_below_mm"): gettext_lazy("alone {lengths}"),
    ("rider_from_above_mm", "rider_from_below_mm"): gettext_lazy("with rider {lengths}"),
}
CHAMBERS = {
    "one": gettext_lazy("one: all of the air is above the oil"),
    "twin": gettext_lazy("twin: only the outer chamber's change is given"),
    "closed_cartridge": gettext_lazy("closed cartridge: only the outer chamber's change is given"),
}
READ_AT = {
    ("received", "front"): gettext_lazy("Fork as received: {lengths}."),
    ("received", "rear"): gettext_lazy("Shock as received: {lengths}."),
    ("built", "front"): gettext_lazy("Fork measured again: {lengths}."),
    ("built", "rear"): gettext_lazy("Shock measured again: {lengths}."),
}
HIGHER = {
    "front": gettext_lazy("The fork now carries you {change} higher in its travel, with more of it left for bumps."),
    "rear": gettext_lazy("The shock now carries you {change} higher in its travel, with more of it left for bumps."),
}
LOWER = {
    "front": gettext_lazy("The fork now carries you {change} lower in its travel, with less of it left for bumps."),
    "rear": gettext_lazy("The shock now carries you {change} lower in its travel, with less of it left for bumps."),
}
STIFFER = {
    "front": gettext_lazy("The fork is {percent} % stiffer around the height you ride at."),
    "rear": gettext_lazy("The shock is {percent} % stiffer around the height you ride at."),
}
SOFTER = {
    "front": gettext_lazy("The fork is {percent} % softer around the height you ride at."),
    "rear": gettext_lazy("The shock is {percent} % softer around the height you ride at."),
}
HARDER = gettext_lazy("It takes {percent} % more force to push it all the way in.")
EASIER = gettext_lazy("It takes {percent} % less force to push it all the way in.")


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


def origin(source: Mapping[str, Any] | None) -> str:
    """Say where a fact comes from; what nobody said is assumed."""
    if source is None:
        return _("assumed")
    said = str(ORIGINS.get(source["from"], source["from"]))
    if source["from"] != "manual":
        return said
    edition, page = source.get("edition"), source.get("page")
    return said + (f", {edition}" if edition else "") + (f", {page_words(page)}" if page else "")


def page_words(page: str) -> str:
    """Name a page of a manual."""
    return _("p. {page}").format(page=page)


def spring_words(spring: Mapping[str, Any] | None) -> str:
    """Name a spring by its rates."""
    if spring is None:
        return _("no spring")
    kind = spring["kind"]
    if kind == "straight":
        return figure(spring["rate_n_per_mm"], "N/mm")
    if kind == "dual":
        return _("{soft}, from {change} {hard}").format(
            soft=bare(spring["soft_n_per_mm"], "N/mm"),
            change=figure(spring["change_mm"], "mm"),
            hard=figure(spring["hard_n_per_mm"], "N/mm"),
        )
    if kind == "progressive":
        rise = figures(_("{low} rising to {high}"), "N/mm", low=spring["start_n_per_mm"], high=spring["end_n_per_mm"])
        return _("{rise} over {length}").format(rise=rise, length=figure(spring["over_mm"], "mm"))
    stamped, rates = spring.get(STAMP), retold(rate_words(spring))
    return rates if stamped is None else _("{rates}, stamped {rate}").format(rates=rates, rate=bare(stamped, "N/mm"))


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
    for key, name in (("static_sag_mm", _("Static sag")), ("rider_sag_mm", _("Rider sag"))):
        band = targets.get(key)
        target = figures(to(), "mm", low=round(band[0], 1), high=round(band[1], 1)) if band else ""
        cells = [_sag_cell(document, stage, end, key) for stage in ("received", "built")]
        rows.append(Row(name, cells[0], cells[1], target, key.removesuffix("_mm")))
    return rows


def _sag_cell(document: Mapping[str, Any], stage: str, end: str, key: str) -> Cell:
    measured = ((document["sag"].get(stage) or {}).get(end) or {}).get(key)
    if measured is not None:
        spread = document["sag"][stage][end].get(key.replace("_sag_mm", "_u_mm"))
        value = printed.whole(measured)
        if not spread:
            return Cell(figure(value, "mm"), _("measured"))
        about = max(printed.whole(spread), 1)
        return Cell(figures("{value} ± {spread}", "mm", value=value, spread=about), _("measured"))
    result = document["results"][stage][end]
    if not result:
        return NONE
    return Cell(figure(printed.whole(result[key]), "mm"), _calculated(document, end, key.partition("_")[0]))


def _calculated(document: Mapping[str, Any], end: str, sag: str) -> str:
    """Say that a sag was calculated, and what earlier jobs on this model corrected it by."""
    correction = (document.get("corrections") or {}).get(end)
    return _("calculated") + ("" if correction is None else f", {retold(short(correction, sag))}")


def rider_sag(document: Mapping[str, Any], stage: str, end: str) -> tuple[float, str] | None:
    """Return the rider sag in mm that holds for a stage, and whether it was measured or calculated."""
    measured = ((document["sag"].get(stage) or {}).get(end) or {}).get("rider_sag_mm")
    if measured is not None:
        return measured, "measured"
    result = document["results"][stage][end]
    return (result["rider_sag_mm"], "calculated") if result else None


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
    named = [OF_LEG[leg].format(value=text or "–") for leg, text in zip(LEGS, texts, strict=False)]
    return Cell("; ".join(named), " / ".join(dict.fromkeys(froms)))


def _mm(holder: Mapping[str, Any], key: str) -> str:
    return "" if holder.get(key) is None else figure(holder[key], "mm")


def _named_spring(holder: Mapping[str, Any]) -> str:
    words, label = spring_words(holder.get("spring")), holder.get("label")
    if not label or not holder.get("spring"):
        return words
    return str(label) if "N/mm" in label and not converts() else f"{words} ({label})"


def _spring_rows(before: Any, after: Any, end: str) -> list[Row]:
    if end == "rear":
        return [
            _row(_("Spring"), "spring", before, after, "spring", _named_spring, "spring"),
            _row(
                _("Preload"),
                "preload",
                before,
                after,
                "preload_mm",
                lambda body: _mm(body, "preload_mm"),
                "preload",
            ),
        ]
    writers = {
        _("Spring"): ("spring", _named_spring, "spring"),
        _("Preload"): ("preload_mm", lambda leg: _mm(leg, "preload_mm"), "preload"),
        _("Spacer"): ("spacer_mm", lambda leg: _mm(leg, "spacer_mm"), ""),
        _("Air gap"): ("air_gap_mm", lambda leg: _mm(leg, "air_gap_mm"), "air_gap"),
        _("Air pressure"): ("pressure_kpa", _pressure, ""),
    }
    each = _("{name}, per leg") if len(((after or before).get("legs")) or []) == 2 else "{name}"
    return [
        Row(each.format(name=name), _per_leg(before, key, write), _per_leg(after, key, write), key=term)
        for name, (key, write, term) in writers.items()
    ]


def _pressure(leg: Mapping[str, Any]) -> str:
    return figure(leg["pressure_kpa"], "kPa") if leg.get("pressure_kpa") else ""


def _row(name: str, key: str, before: Any, after: Any, source: str, write: Any, term: str = "") -> Row:
    cells = [
        Cell(write(body), origin((body.get("sources") or {}).get(source))) if body and write(body) else NONE
        for body in (before, after)
    ]
    return Row(name, cells[0], cells[1], key=term or key)


def _other_rows(before: Any, after: Any, end: str) -> list[Row]:
    rows = []
    if end == "front":
        rows.append(_row(_("Oil"), "oil", before, after, "oil_grade", _oil))
        rows.append(
            _row(
                _("Tubes above clamp"),
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
                _("Ride height"),
                "ride_height",
                before,
                after,
                "ride_height_mm",
                lambda b: _mm(b, "ride_height_mm"),
            )
        )
    rows += _clicker_rows(before, after)
    rows.append(_row(_("Tyre, cold"), "tyre", before, after, "tyre_pressure_kpa", _tyre, "tyre_pressure"))
    return rows


def _oil(body: Mapping[str, Any]) -> str:
    volume, batch = "", ""
    if body.get("oil_cm3_per_leg") is not None:
        volume = _("{volume} per leg").format(volume=figure(body["oil_cm3_per_leg"], "cm³"))
    if body.get("oil_batch"):
        batch = _("batch {batch}").format(batch=body["oil_batch"])
    return ", ".join(part for part in (body.get("oil_grade") or "", batch, volume) if part)


def _tyre(body: Mapping[str, Any]) -> str:
    kpa = body.get("tyre_pressure_kpa")
    if kpa is None:
        return ""
    return figure(kpa, "kPa") if converts() else f"{typed(kpa)} kPa ({number(kpa / 100)} bar)"


def _clicker_rows(before: Any, after: Any) -> list[Row]:
    """Return a line for each adjuster, in the order in which they were entered."""
    found: dict[tuple[str, str], list[Cell]] = {}
    for place, body in enumerate((before, after)):
        for clicker in (body or {}).get("clickers") or []:
            cells = found.setdefault((clicker["adjuster"], clicker.get("leg") or ""), [NONE, NONE])
            if clicker.get("position") is not None:
                said = COUNTED[clicker["unit"], clicker["counted_from"]]
                cells[place] = Cell(said.format(n=typed(clicker["position"])), _("counted"))
    return [Row(_adjuster(adjuster, leg), cells[0], cells[1], key=adjuster) for (adjuster, leg), cells in found.items()]


def _adjuster(adjuster: str, leg: str) -> str:
    name = str(ADJUSTERS[adjuster])
    return ADJUSTER_OF_LEG[leg].format(adjuster=name) if leg in LEGS else name


def results(document: Mapping[str, Any], end: str) -> list[Row]:
    """Return one end's computed lines before and after: each is the result for the springs as they stood."""
    writers = (
        ("breakaway_n", _("First moves at"), "N", "breakaway"),
        ("wheel_rate_n_per_mm", _("Wheel rate"), "N/mm", "wheel_rate"),
        ("full_stroke_n", _("Force at the stop"), "N", "full_stroke"),
        ("energy_to_stop_j", _("Energy to the stop"), "J", "energy"),
        ("solid_clearance_mm", _("Spring clearance"), "mm", "clearance"),
    )
    rows = []
    for key, name, unit, term in writers:
        cells = []
        for stage in ("received", "built"):
            value = (document["results"][stage][end] or {}).get(key)
            cells.append(NONE if value is None else Cell(figure(value, unit, 3), _("calculated")))
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
        said += [WORK_ON[name].format(work="; ".join(done)) for name, done in zip(names, work, strict=True)]
        if oil := _oil(after):
            said.append(_("Fork oil: {oil}.").format(oil=oil))
        said += _outer_chamber(document)
    before, after = (document["settings"][stage]["rear"] for stage in ("received", "built"))
    if before and after:
        done = _change(_("preload {value}"), before, after, "preload_mm", _spring_change(before, after))
        said.append(_("Shock: {work}.").format(work="; ".join(done)))
    return said


def _outer_chamber(document: Mapping[str, Any]) -> list[str]:
    """Say of a fork with chambers of its own what its figures leave out, as it was sealed with them."""
    notes = [
        note["text"]
        for stage in ("received", "built")
        for note in (document["results"][stage]["front"] or {}).get("notes", ())
        if note["code"] == "outer_chamber_only" and note["severity"] == "warning"
    ]
    return [retold(note) for note in notes[:1]]


def _spring_change(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    was, now = spring_words(old.get("spring")), _named_spring(new)
    if spring_words(new.get("spring")) == was:
        return [_("spring {spring} kept").format(spring=was)]
    return [_("spring {new} instead of {old}").format(new=now, old=was)]


def _bore(document: Mapping[str, Any]) -> float | None:
    """Return the bore in mm where the air gap is read; None where nobody gave it."""
    holder = document["bike"] or document["loose"] or {}
    fork = holder.get("front") or {}
    if fork.get("pour") is None:
        bore: float | None = fork.get("bore_diameter_mm")
        return bore
    return float(f"{bore_mm(fork):.4g}")


def _leg_work(old: Mapping[str, Any], new: Mapping[str, Any], bore_mm: float | None) -> list[str]:
    said = _change(_("preload {value}"), old, new, "preload_mm", _spring_change(old, new))
    said = _change(_("spacer cut to {value}"), old, new, "spacer_mm", said)
    said = _change(_("air gap, spring out and fork collapsed, {value}"), old, new, "air_gap_mm", said)
    rise = (old.get("air_gap_mm") or 0) - (new.get("air_gap_mm") or 0)
    if rise and bore_mm and None not in (old.get("air_gap_mm"), new.get("air_gap_mm")):
        # The oil's level follows its volume over the bore's area, spring out: whatever the springs displace.
        volume = math.pi / 4 * bore_mm**2 * abs(rise) / 1000
        way = (
            _("{gap}, {volume} more oil in a bore of {bore}")
            if rise > 0
            else _("{gap}, {volume} less oil in a bore of {bore}")
        )
        said[-1] = way.format(gap=said[-1], volume=figure(volume, "cm³", 2), bore=figure(bore_mm, "mm"))
    return _change(_("volume of spring, spacer and cap {value}"), old, new, "solids_cm3", said)


def _change(words: str, old: Mapping[str, Any], new: Mapping[str, Any], key: str, said: list[str]) -> list[str]:
    """Add to `said` how one value stands now, and what it was where it differs."""
    now, was = new.get(key), old.get(key)
    if now is None:
        return said
    unit = unit_of(key)
    value = figure(now, unit)
    if was not in (None, now):
        value = (_("{value}, was {old}") if converts() else _("{value} (was {old})")).format(
            value=value, old=bare(was, unit)
        )
    return [*said, words.format(value=value)]


def load_cases(document: Mapping[str, Any]) -> list[str]:
    """Say end by end which preload each load case needs; empty where the record holds none (older ones do not)."""
    preloads = (document.get("load_cases") or {}).get("preloads") or {}
    said = []
    for end in ENDS:
        for case in (preloads.get(end) or {}).get("cases", []):
            words = _("{end}, {case}: {preload} of preload, for a rider sag of {sag}.")
            if not case["in_band"]:
                words = _(
                    "{end}, {case}: {preload} of preload, the nearest that its adjuster gives, "
                    "for a rider sag of {sag}."
                )
            preload = told(printed.halves(case["set_to_mm"]), "mm")
            sag = told(printed.whole(case["rider_sag_mm"]), "mm")
            said.append(words.format(end=end_word(end), case=case["label"], preload=preload, sag=sag))
    return said


def end_word(end: str) -> str:
    """Name an end at the start of a sentence."""
    word = str(END_WORDS[end])
    return word[:1].upper() + word[1:]


def verdicts(document: Mapping[str, Any], end: str) -> dict[str, str]:
    """Return the sentence of verdict before and after; empty where there is none."""
    said = {stage: retold((document["verdicts"][stage][end] or {}).get("text", "")) for stage in ("received", "built")}
    if document["settings"]["received"][end] and not document["settings"]["built"][end]:
        said["built"] = _("Not worked on: it stands as it was received.")
    return said


def feel(document: Mapping[str, Any], end: str) -> list[str]:
    """Say in plain words what differs in the riding, from the sealed results before and after."""
    before, after = (document["results"][stage][end] for stage in ("received", "built"))
    if not before or not after:
        return []
    said = []
    was, now = (rider_sag(document, stage, end) for stage in ("received", "built"))
    sag = printed.whole(now[0]) - printed.whole(was[0]) if was and now and was[1] == now[1] else 0
    if abs(sag) >= 2:
        words = HIGHER if sag < 0 else LOWER
        said.append(words[end].format(change=told(abs(sag), "mm")))
    said += _percent(before, after, "wheel_rate_n_per_mm", (STIFFER[end], SOFTER[end]))
    said += _percent(before, after, "full_stroke_n", (HARDER, EASIER))
    return said


def _percent(before: Mapping[str, Any], after: Mapping[str, Any], key: str, words: tuple[Any, Any]) -> list[str]:
    """Say by how many percent a result grew, in the first of the words, or shrank, in the second."""
    change = 100 * (after[key] / before[key] - 1) if before[key] and after[key] else 0.0
    if abs(change) < 3:
        return []
    return [words[change < 0].format(percent=whole(abs(change)))]


def readings(document: Mapping[str, Any]) -> list[str]:
    """Return the raw lengths that count, one phrase for each end and stage, and who read them, with what and
    when."""
    zone = document["shop"]["time_zone"]
    lengths = [one for one in document["readings"] if one["counts"]]
    said = []
    for (stage, end), words in READ_AT.items():
        values = {one["quantity"]: typed(one["value"]) for one in lengths if (one["stage"], one["end"]) == (stage, end)}
        pairs = [
            name.format(lengths=" / ".join(found))
            for quantities, name in READ_PAIRS.items()
            if (found := [values[quantity] for quantity in quantities if quantity in values])
        ]
        if pairs:
            said.append(words.format(lengths=", ".join(pairs)))
    readers = dict.fromkeys(_reader(one, zone) for one in lengths)
    return [*said, _("Read by {names}.").format(names="; ".join(readers))] if said else []


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
            if key == "shocks":
                name = ngettext("{n} shock", "{n} shocks", value).format(n=value)
            else:
                name = _("{end} {field} {value}").format(
                    end=END_WORDS[end], field=field_words(key), value=_fact(key, value)
                )
            grouped.setdefault(origin((bike.get("sources") or {}).get(f"{end}.{key}")), []).append(name)
    return [f"{where[:1].upper()}{where[1:]}: {'; '.join(names)}." for where, names in grouped.items()]


def _fact(key: str, value: Any) -> str:
    if key == "leverage":
        if value["kind"] == "ratio":
            return _("{ratio} mm at the wheel for 1 mm at the shock").format(ratio=typed(value["wheel_per_shock"]))
        return _linkage(value) if value["kind"] == "linkage" else _pairs(value)
    if key == "pour":
        return _("{volume} raise the oil {rise}").format(
            volume=figure(value["cm3"], "cm³"), rise=figure(value["rise_mm"], "mm")
        )
    if key == "chambers":
        return str(CHAMBERS[value])
    if isinstance(value, list):
        return figures(to(), unit_of(key), low=value[0], high=value[1])
    if isinstance(value, dict):
        return ", ".join(f"{field_words(name)} {measure(name, one)}" for name, one in value.items())
    return measure(key, value)


def measure(key: str, value: float) -> str:
    """Write the number of a field with the unit that its name ends in."""
    unit = unit_of(key)
    return figure(value, unit) if unit not in ("", "°") else f"{typed(value)}{unit}"


def _pairs(leverage: Mapping[str, Any]) -> str:
    read = leverage.get("readings")
    if not read:
        count = len(leverage.get("wheel_mm", ()))
        return _("table of {n} measured pairs (in the attached file)").format(n=count)
    count = len(read["wheel_mm"])
    return _("table smoothed from {n} measured pairs (both in the attached file)").format(n=count)


def _linkage(leverage: Mapping[str, Any]) -> str:
    points = len(POINTS) + (len(ROCKER_POINTS) if leverage.get("rocker") else 0)
    reach = leverage.get("reach_mm")
    if reach is None:
        return _("linkage of {n} points (in the attached file)").format(n=points)
    span = figures(to(), "mm", low=0, high=round(reach))
    return _("linkage of {n} points, reach {span} (in the attached file)").format(n=points, span=span)


def when(text: str | None, zone: str, *, with_time: bool = False, short: bool = False) -> str:
    """Write a sealed moment as the shop's own date, with the time and zone, or the month cut short, where
    asked."""
    if not text:
        return ""
    at = datetime.fromisoformat(text)
    if at.tzinfo is not None:
        at = at.astimezone(ZoneInfo(zone))
    day = days.written(at, short=short)
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
            names.append(str(label or _("line {n}").format(n=int(part) + 1)))
        else:
            names.append(field_words(part))
    return f"{', '.join(names)}: {field_words(parts[-1])}" if names else field_words(parts[-1])


def amended_value(path: str, value: Any) -> str:
    """Write an amended value with its unit."""
    if value is None or value == "":
        return _("nothing")
    key = path.rsplit(".", 1)[-1]
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    return measure(key, value) if isinstance(value, int | float) else str(value)


def cautions_by_word(cautions: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the cautions, the gravest signal word first (ANSI Z535.6: DANGER, WARNING, CAUTION, NOTICE)."""
    order = ("DANGER", "WARNING", "CAUTION", "NOTICE")
    return sorted(cautions, key=lambda one: order.index(one["word"]))
