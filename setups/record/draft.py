"""A draft of what the rider is told: what was wrong, what was changed, what it will feel like, when to come back.

It stands first on the customer's page, so it is in the shop's language and units, whoever drafts it. A person reads it
through and edits it: nothing here is saved.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc import printed
from setups import measured, sums
from setups.figures import as_read, retold, told
from setups.models import JobCard
from setups.record import layout
from setups.springs import rate_words
from shops import days

STAGES = ("received", "built")
SAME = {
    "front": gettext_lazy("The fork springs are the same ({now}){preload}."),
    "rear": gettext_lazy("The shock spring is the same ({now}){preload}."),
}
CHANGED = {
    "front": gettext_lazy("The fork springs are now {now} instead of {was}{preload}."),
    "rear": gettext_lazy("The shock spring is now {now} instead of {was}{preload}."),
}
NEW = {
    "front": gettext_lazy("The fork springs are now {now}{preload}."),
    "rear": gettext_lazy("The shock spring is now {now}{preload}."),
}
SETTLES = {
    "front": gettext_lazy("With you on it, the front now settles by {after}{was}{aim}."),
    "rear": gettext_lazy("With you on it, the rear now settles by {after}{was}{aim}."),
}


def draft(card: JobCard) -> dict[str, str]:
    """Return the draft for the rider of `card`, and the code of the language that it is in."""
    with as_read(card.shop.language, card.shop.units):
        paragraphs = [_complaint(card), *(_end(card, end) for end in measured.ENDS), _next(card)]
    return {"text": "\n\n".join(part for part in paragraphs if part), "language": card.shop.language}


def _complaint(card: JobCard) -> str:
    said = card.complaint.strip().rstrip(". \n")
    return _("You told us: {complaint}.").format(complaint=said) if said else ""


def _next(card: JobCard) -> str:
    note = card.next_service_note.strip().rstrip(".")
    if card.next_service_on is None:
        return _("When to come back: {note}.").format(note=note) if note else ""
    day = days.written(card.next_service_on)
    if not note:
        return _("When to come back: {day}.").format(day=day)
    return _("When to come back: {day}; {note}.").format(day=day, note=note)


def _end(card: JobCard, end: str) -> str:
    bodies = {stage: sums.body_of(card, stage, end) for stage in STAGES}
    built = bodies["built"]
    if built is None or not measured.has_end(card, end):
        return ""
    found = {
        "sag": {stage: {end: measured.sag_or_problems(card, stage, end)[0]} for stage in STAGES},
        "results": {
            stage: {end: None if body is None else sums.worked(card, stage, end, body).result}
            for stage, body in bodies.items()
        },
    }
    parts = [_springs(end, bodies["received"], built), _sag(card, end, found), *layout.feel(found, end)]
    return " ".join(part for part in parts if part)


def _springs(end: str, received: Mapping[str, Any] | None, built: Mapping[str, Any]) -> str:
    before, after = _carrier(end, received), _carrier(end, built)
    if not after.get("spring"):
        return ""
    now = retold(rate_words(after["spring"]))
    was = retold(rate_words(before["spring"])) if before.get("spring") else None
    wound = after.get("preload_mm")
    preload = "" if wound is None else _(", with {preload} of preload").format(preload=told(wound, "mm"))
    words = NEW if was is None else SAME if was == now else CHANGED
    return str(words[end]).format(now=now, was=was, preload=preload)


def _carrier(end: str, body: Mapping[str, Any] | None) -> Mapping[str, Any]:
    """Return the first leg that carries a spring, or the shock; empty where none does."""
    return next(iter(sums.springed(body or {}, end)), {})


def _sag(card: JobCard, end: str, found: Mapping[str, Any]) -> str:
    """Tell the rider sag, and what it was where both were measured, or both computed."""
    before, after = (layout.rider_sag(found, stage, end) for stage in STAGES)
    if after is None:
        return ""
    sag, was = printed.whole(after[0]), ""
    if before is not None and before[1] == after[1] and printed.whole(before[0]) != sag:
        was = _(" (it was {before})").format(before=told(printed.whole(before[0]), "mm"))
    targets, aim = measured.targets_of(card, end), ""
    if targets is not None:
        low, high = (told(printed.whole(edge), "mm") for edge in (targets.rider.low, targets.rider.high))
        aim = _("; {low} to {high} is what we aim for on this kind of bike").format(low=low, high=high)
    return str(SETTLES[end]).format(after=told(sag, "mm"), was=was, aim=aim)
