"""The trail in plain words: who, when, from where, what it was about, and what changed from which value to which.

The trail itself keeps no personal value; names shown here are those of today's rows, which the asker may read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from django.db.models import Model, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.words import say
from setups.audit.asked import Asked
from setups.audit.row import Row, blank
from setups.audit.verb_words import verb_words
from setups.data.journal import PUT_BACK
from setups.field_words import field_words
from setups.kinds import source_words
from setups.models import Bike, Customer, JobCard, KindOfBike, PartLine, Rider, TorqueLine
from setups.whole_card import bike_title, moment
from shops.access import Scoped, rows
from shops.models import AuditEntry, Person, Shop, StockSpring, Tool
from shops.trail import PERSONAL

KINDS: Mapping[str, Any] = {
    "jobcard": gettext_lazy("job card"),
    "torqueline": gettext_lazy("torque line"),
    "partline": gettext_lazy("part"),
    "bike": gettext_lazy("bike"),
    "customer": gettext_lazy("customer"),
    "rider": gettext_lazy("rider"),
    "kindofbike": gettext_lazy("usual sag"),
    "shop": gettext_lazy("shop"),
    "person": gettext_lazy("person"),
    "tool": gettext_lazy("tool"),
    "stockspring": gettext_lazy("spring on the list"),
    "customerlink": gettext_lazy("customer's link"),
    "estimate": gettext_lazy("estimate"),
    "tablet": gettext_lazy("tablet"),
    "invitation": gettext_lazy("invitation"),
}
"""What a line of the trail can be about, by the model's name."""
MODELS: Mapping[str, type[Scoped]] = {
    model._meta.model_name or "": model
    for model in (JobCard, TorqueLine, PartLine, Bike, Customer, Rider, KindOfBike, Shop, Person, Tool, StockSpring)
}
RELATED: Mapping[str, tuple[str, ...]] = {
    "jobcard": ("bike", "shop"), "torqueline": ("card__bike", "card__shop"), "partline": ("card__bike", "card__shop"),
}  # fmt: skip
NAMED: Mapping[str, str] = {
    "card": "jobcard", "bike": "bike", "customer": "customer", "owner": "customer", "rider": "rider", "shop": "shop",
    "wrench": "tool", "spring": "stockspring", "tightened_by": "person", "checked_by": "person", "twin": "bike",
}  # fmt: skip
"""Fields that hold the id of a row, and the model of it."""
UNITS: Mapping[str, str] = {
    "_n_per_mm": "rate", "_mm": "length", "_cm3": "volume", "_cm3_per_leg": "volume", "_kpa": "pressure", "_kg": "mass",
    "_nm": "torque", "_n": "force",
}  # fmt: skip
"""The quantity of a field by the end of its name."""
MOST_CHANGES = 40


def find(asked: Asked) -> QuerySet[Any]:
    """Find the lines of the trail, the latest first."""
    wanted = asked.within("at", "shop")
    if asked.who is not None:
        wanted["person"] = asked.who
    if asked.kind:
        wanted["subject"] = asked.kind
    return rows(AuditEntry, asked.person).filter(**wanted).select_related("shop", "person").order_by("-at", "-id")


def tell(asked: Asked, found: Sequence[AuditEntry]) -> list[Row]:
    """Return the lines in words. The rows named in them are fetched kind by kind: no more queries for more lines."""
    held = _held(asked.person, found)
    return [_row(one, held) for one in found]


Held = Mapping[str, Mapping[int, Model]]


def _held(person: Person, found: Iterable[AuditEntry]) -> Held:
    wanted: dict[str, set[int]] = {kind: set() for kind in MODELS}
    for one in found:
        if one.subject in wanted:
            wanted[one.subject].add(one.subject_id)
        for fields in (one.before, one.after):
            for name, value in (fields or {}).items():
                if name in NAMED and isinstance(value, int):
                    wanted[NAMED[name]].add(value)
    return {kind: _rows_of(person, kind, ids) for kind, ids in wanted.items()}


def _rows_of(person: Person, kind: str, ids: set[int]) -> dict[int, Model]:
    found = rows(MODELS[kind], person).filter(pk__in=ids)
    if kind in RELATED:
        found = found.select_related(*RELATED[kind])
    return {row.pk: row for row in found}


def _row(one: AuditEntry, held: Held) -> Row:
    subject = held.get(one.subject, {}).get(one.subject_id)
    card = subject if isinstance(subject, JobCard) else getattr(subject, "card", None)
    if card is None:
        # The row is gone, such as a torque line that was removed: the trail names its card.
        card = held["jobcard"].get((one.before or one.after or {}).get("card") or 0)
    about = _about(one, subject)
    row = {
        **blank(one.pk),
        "at": moment(one.at),
        "shop_name": one.shop.name if one.shop is not None else "",
        "who": one.person.name if one.person is not None else _("the service"),
        "address": one.address or _("at the machine itself"),
        "text": f"{verb_words(one.verb)}{f': {about}' if about else ''}",
        "why": say(PUT_BACK) if one.reason == PUT_BACK else one.reason,
        "changes": list(_changes(one, held))[:MOST_CHANGES],
    }
    if isinstance(card, JobCard):
        row |= {"card": card.pk, "card_number": card.number, "bike": bike_title(card.bike) or card.loose_description}
    return row


def _about(one: AuditEntry, subject: Model | None) -> str:
    if isinstance(subject, JobCard):
        return ""  # the row names the card
    if subject is None:
        was = one.before or {}
        gone = was.get("fastener") or was.get("description") or was.get("code")
        return str(gone or f"{KINDS.get(one.subject, one.subject)} {one.subject_id}")
    return str(subject)


def _changes(one: AuditEntry, held: Held) -> Iterator[dict[str, Any]]:
    """Yield the single values that differ, nested ones by their path."""
    before, after = dict(_leaves(one.before or {})), dict(_leaves(one.after or {}))
    for path in dict.fromkeys((*before, *after)):
        old, new = before.get(path), after.get(path)
        if old == new and old != PERSONAL:
            continue
        if old in (None, "") and new in (None, ""):
            continue
        yield {
            "label": _label(path),
            "quantity": _quantity(path),
            "old": _value(path, old, held),
            "new": _value(path, new, held),
        }


def _leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    inside = value.items() if isinstance(value, Mapping) else enumerate(value) if isinstance(value, list) else None
    if inside is None:
        yield path, value
        return
    for key, one in inside:
        yield from _leaves(one, f"{path}.{key}" if path else str(key))


def _label(path: str) -> str:
    return ", ".join(f"{int(step) + 1}" if step.isdigit() else field_words(step) for step in path.split("."))


def _quantity(path: str) -> str | None:
    last = path.rsplit(".", 1)[-1]
    return next((quantity for ending, quantity in UNITS.items() if last.endswith(ending)), None)


def _value(path: str, value: Any, held: Held) -> Any:
    """Return a value as it is told: a row by its name, a personal one as such, a number as it is."""
    if value == PERSONAL:
        return _("personal, not kept")
    if path == "source" and isinstance(value, str):
        return source_words(value)
    kind = NAMED.get(path)
    if kind is None or not isinstance(value, int):
        return value
    row = held[kind].get(value)
    return f"{KINDS[kind]} {value}" if row is None else str(row)
