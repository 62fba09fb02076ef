"""What an amendment may put into a place of a record: what the card itself would have taken there, no more."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.bands import BANDS, Band
from calc.checks import Findings, check_range
from calc.refusal import Problem, Refusal
from setups import bodies
from setups.limits import FASTENERS, QUANTITY, YEAR
from setups.measured import ENDS
from setups.verbs.cards import BANDS_OF_FACE
from setups.verbs.readings import band_of
from setups.verbs.torques import TORQUE

LONGEST_TEXT = 2000
LARGEST_NUMBER = 2**53
"""RFC 8785 writes numbers as doubles: a whole number beyond would be another one."""
_NUMBER = gettext_lazy("a number")
KINDS: Mapping[type, Any] = {str: gettext_lazy("a text"), bool: gettext_lazy("yes or no"), int: _NUMBER, float: _NUMBER}
WHOLE = ("year", "quantity", "count")
MAY_BE_BLANK = ("distance_km", "hours", "year")
LINES: Mapping[tuple[str, str], Band] = {
    ("torques", "value_nm"): TORQUE,
    ("torques", "count"): FASTENERS,
    ("parts", "quantity"): QUANTITY,
    ("bike", "year"): YEAR,
    ("gap_and_oil", "air_gap_before_mm"): BANDS["leg.air_gap_mm"],
    ("gap_and_oil", "air_gap_after_mm"): BANDS["leg.air_gap_mm"],
    **{("card", key): band for key, band in BANDS_OF_FACE.items()},
}
"""The bands of the numbers that stand by themselves, by the part of the document and the field."""


def check_new(document: Mapping[str, Any], place: str, old: Any, new: Any) -> list[Problem]:
    """Return what is wrong with `new` instead of `old` at `place` of `document`, a record as amended so far.

    It must be of the field's kind and pass the bands and couplings that the field had on the card. Every
    problem's field is "new".
    """
    if isinstance(new, dict | list):
        return [Problem("new", "other_kind", _("Give a single value: a number, a text, yes or no, or nothing."))]
    if new == old and isinstance(new, bool) == isinstance(old, bool):
        return [Problem("new", "unchanged", _("The new value is the old one; there is nothing to amend."), new)]
    if old is not None and new is not None and _kind(old) != _kind(new):
        text = _("The old value is {kind}; give the new one alike.").format(kind=_kind(old))
        return [Problem("new", "other_kind", text, new)]
    if isinstance(new, int | float) and abs(new) > LARGEST_NUMBER:
        text = _("{new:.6g} is more than a record can hold exactly; is it mistyped?").format(new=new)
        return [Problem("new", "out_of_band", text, float(new))]
    if isinstance(new, str) and len(new) > LONGEST_TEXT:
        return [
            Problem(
                "new",
                "too_long",
                _("The text has {count} characters; at most {most} fit.").format(count=len(new), most=LONGEST_TEXT),
            )
        ]
    parts = place.split(".")
    if parts[0] == "settings" and len(parts) > 3:
        return _whole_body(document, place, new, _setting)
    if parts[0] in ("bike", "loose") and len(parts) > 2 and parts[1] in ENDS:
        return _whole_body(document, place, new, _end)
    return _line(document, parts, old, new)


def _kind(value: Any) -> str:
    return str(KINDS[type(value)])


def put(document: Any, place: str, new: Any) -> None:
    """Set the value at a dotted place of a document that holds one there."""
    *way, last = place.split(".")
    for key in way:
        document = document[int(key)] if isinstance(document, list) else document[key]
    document[int(last) if isinstance(document, list) else last] = new


Check = Callable[[Mapping[str, Any], list[str]], None]


def _whole_body(document: Mapping[str, Any], place: str, new: Any, check: Check) -> list[Problem]:
    """Return what is wrong with a setting or an end's data with the new value in it, and was not wrong before."""
    amended = copy.deepcopy(dict(document))
    put(amended, place, new)
    parts = place.split(".")
    before = _refused(check, document, parts)
    found = [problem for problem in _refused(check, amended, parts) if problem not in before]
    return [Problem("new", one.code, one.text, one.value, one.unit, one.low, one.high) for one in found]


def _refused(check: Check, document: Mapping[str, Any], parts: list[str]) -> list[Problem]:
    try:
        check(document, parts)
    except Refusal as refusal:
        return list(refusal.problems)
    return []


def _setting(document: Mapping[str, Any], parts: list[str]) -> None:
    stage, end = parts[1:3]
    holder = document["bike"] or document["loose"] or {}
    bodies.check_setting(document["settings"][stage][end], end, stage, holder.get(end))


def _end(document: Mapping[str, Any], parts: list[str]) -> None:
    holder, end = parts[:2]
    bodies.check_end(document[holder][end], end, end)


def _line(document: Mapping[str, Any], parts: list[str], old: Any, new: Any) -> list[Problem]:
    """Return what is wrong with a value that no other one leans on."""
    key = parts[-1]
    if parts[0] == "targets" and len(parts) == 4:
        pair = list(document["targets"][parts[1]][parts[2]])
        pair[int(key)] = new
        findings = Findings()
        check_range(findings, pair, "new", BANDS[f"target.{parts[2]}"])
        return [Problem("new", one.code, one.text, new, one.unit, one.low, one.high) for one in findings.problems]
    band = _band(document, parts)
    if band is not None:
        return [] if new is None and key in MAY_BE_BLANK else _number(new, band, whole=key in WHOLE)
    if _is_day(key):
        return [] if new is None or _read_day(new) else [_no_day(new)]
    if (old is None or isinstance(old, str)) and not isinstance(new, str):
        return [Problem("new", "other_kind", _("A text stands here; give a text, an empty one for nothing."), new)]
    if new is None:
        return [
            Problem("new", "other_kind", _("The old value is {kind}; give the new one alike.").format(kind=_kind(old)))
        ]
    return []


def _number(new: Any, band: Band, *, whole: bool) -> list[Problem]:
    findings = Findings()
    if new is None:
        findings.add(
            "new", "missing", _("Give {what}: {band}.").format(what=band.named, band=band.wording()), None, band
        )
        return findings.problems
    found = findings.value(new, "new", band)
    if found is not None and whole and not found.is_integer():
        findings.add(
            "new",
            "not_whole",
            _("{found:g} for {what} is not a whole number.").format(found=found, what=band.named),
            new,
            band,
        )
    return findings.problems


def _band(document: Mapping[str, Any], parts: list[str]) -> Band | None:
    if parts[0] == "readings" and parts[-1] == "value":
        reading = document["readings"][int(parts[1])]
        return band_of(reading["quantity"], reading["end"])
    return LINES.get((parts[0], parts[-1]))


def _is_day(key: str) -> bool:
    return key == "on" or key.endswith(("_at", "_due")) or key == "at"


def _read_day(text: Any) -> bool:
    try:
        return isinstance(text, str) and bool(datetime.fromisoformat(text))
    except ValueError:
        return False


def _no_day(text: Any) -> Problem:
    return Problem("new", "not_a_day", _("{text!r:.40} is no day; write it as 2031-04-30.").format(text=text), text)
