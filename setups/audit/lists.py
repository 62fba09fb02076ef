"""The audit's lists: each a query over the asker's own business, and what is told of a row.

A list is found by one query and told from the rows of one page, whatever their number. A new list is a function
that finds, one that tells, and its line in `LISTS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from calc.words import number, say
from setups.approval_models import Override
from setups.audit import calibration, records, sags, tools, trail_words
from setups.audit.asked import Asked
from setups.audit.row import Row, of_card
from setups.batches import batch_key
from setups.blockers import NAMES
from setups.field_words import field_words
from setups.models import BatchUse, JobCard, SealedRecord, TorqueLine
from setups.record.reading import changes_of
from shops.access import rows
from shops.language import here

Found = QuerySet[Any]


@dataclass(frozen=True)
class AuditList:
    """One list: how its rows are found and told, and its columns as a file: title and value of each.

    `gathered`: what it looks for is found by several indexes, none of them in the list's order.
    """

    find: Callable[[Asked], Found]
    tell: Callable[[Asked, Sequence[Any]], list[Row]]
    columns: Mapping[str, Any]
    gathered: bool = False


CARD_COLUMNS: Mapping[str, Any] = {
    "at": gettext_lazy("When"),
    "shop_name": gettext_lazy("Shop"),
    "card_number": gettext_lazy("Card"),
    "bike": gettext_lazy("Bike"),
    "who": gettext_lazy("Who"),
    "text": gettext_lazy("What"),
    "why": gettext_lazy("Why"),
}


def _lines(asked: Asked) -> Found:
    """Return the torque lines of the cards opened in the days asked for."""
    return (
        rows(TorqueLine, asked.person)
        .filter(**asked.within("opened_at", "card__shop"))
        .select_related("card__shop", "card__bike", "tightened_by", "wrench")
        .order_by("-opened_at", "-id")
    )


def unchecked(asked: Asked) -> Found:
    """Find fasteners that need a second person's check, are tightened, and were checked by nobody else."""
    nobody = Q(checked_by__isnull=True) | Q(checked_by=F("tightened_by"))
    return _lines(asked).filter(nobody, needs_second_check=True, tightened_by__isnull=False)


def unsourced(asked: Asked) -> Found:
    """Find torque values that name no edition or no page of the bike's own manual."""
    return _lines(asked).filter(Q(source_edition="") | Q(source_page=""), value_nm__isnull=False)


def uncalibrated(asked: Asked) -> Found:
    """Find fasteners tightened with a wrench that no known calibration covers on that day."""
    return _lines(asked).filter(calibration.uncovered(asked), tightened_at__isnull=False, wrench__isnull=False)


def late(asked: Asked) -> Found:
    """Find cards opened longer than the days asked for ago and not sealed yet, the oldest first."""
    return (
        rows(JobCard, asked.person)
        .filter(**asked.within("opened_at", "shop"))
        .filter(~Q(step=JobCard.Step.SEALED), opened_at__lt=asked.now - timedelta(days=asked.days))
        .select_related("shop", "bike", "opened_by")
        .order_by("opened_at", "id")
    )


def amended(asked: Asked) -> Found:
    """Find what was amended in sealed records, the latest first."""
    return (
        rows(SealedRecord, asked.person)
        .filter(what=SealedRecord.What.AMENDMENT, **asked.within("sealed_at", "shop"))
        .select_related("card__shop", "card__bike", "sealed_by")
        .order_by("-sealed_at", "-id")
    )


def overridden(asked: Asked) -> Found:
    """Find what a manager let pass although it stood in the way of sealing, the latest first."""
    return (
        rows(Override, asked.person)
        .filter(**asked.within("at", "card__shop"))
        .select_related("card__shop", "card__bike", "by")
        .order_by("-at", "-id")
    )


def recalled(asked: Asked) -> Found:
    """Find every bike that springs, oil or parts of a batch went into; no batch finds none."""
    key = batch_key(asked.batch)
    found = rows(BatchUse, asked.person).filter(batch_key=key, **asked.within("at", "shop"))
    found = found.select_related("card__shop", "card__bike", "card__customer").order_by("-at", "-id")
    return found if key else found.none()


def _tell_unchecked(asked: Asked, found: Sequence[TorqueLine]) -> list[Row]:
    return [
        _line(one, _("{fastener}: tightened, and checked by no second person.").format(fastener=one.fastener))
        for one in found
    ]


def _tell_unsourced(asked: Asked, found: Sequence[TorqueLine]) -> list[Row]:
    return [
        _line(
            one,
            _("{fastener}: {value_nm} N·m without the manual’s {lacks}.").format(
                fastener=one.fastener, value_nm=number(one.value_nm, "g"), lacks=_lacks(one)
            ),
        )
        for one in found
    ]


def _tell_uncalibrated(asked: Asked, found: Sequence[TorqueLine]) -> list[Row]:
    return [
        _line(
            one,
            _("{fastener}: tightened with {wrench}, which no calibration known covers on that day.").format(
                fastener=one.fastener, wrench=one.wrench
            ),
        )
        for one in found
    ]


def _lacks(line: TorqueLine) -> str:
    if line.source_edition:
        return _("page")
    return _("edition") if line.source_page else _("edition and page")


def _line(line: TorqueLine, text: str) -> Row:
    who = line.tightened_by.name if line.tightened_by is not None else ""
    return of_card(line.pk, line.card, line.tightened_at or line.card.opened_at, text, who=who)


def _tell_late(asked: Asked, found: Sequence[JobCard]) -> list[Row]:
    def text(one: JobCard) -> str:
        days = (asked.now - one.opened_at).days
        told = ngettext("Open for {n} day, at “{step}”.", "Open for {n} days, at “{step}”.", days)
        return told.format(n=days, step=one.get_step_display())

    return [of_card(one.pk, one, one.opened_at, text(one), who=one.opened_by.name) for one in found]


def _tell_amended(asked: Asked, found: Sequence[SealedRecord]) -> list[Row]:
    told = []
    for one, change in zip(found, changes_of(found), strict=True):
        said = [{"label": _words(change["path"]), "quantity": None, "old": change["old"], "new": change["new"]}]
        row = of_card(
            one.pk,
            one.card,
            one.sealed_at,
            _("Record {number} amends {place}.").format(number=one.number, place=_words(change["path"])),
        )
        told.append({**row, "who": one.sealed_by.name, "why": change["why"], "changes": said})
    return told


def _tell_overridden(asked: Asked, found: Sequence[Override]) -> list[Row]:
    return [{**of_card(one.pk, one.card, one.at, _passed(one), who=one.by.name), "why": one.reason} for one in found]


def _passed(one: Override) -> str:
    """Say what a manager let pass: as the record says it, or to a reader of another language what kind of thing."""
    return one.text if one.card.shop.language == here() else say(NAMES.get(one.code, one.text))


def _words(path: str) -> str:
    return " › ".join(field_words(step) for step in path.split("."))


def _said_of_batch(one: BatchUse) -> str:
    what, label = one.get_what_display(), say(one.label)
    return _("{what} {label}, batch {batch}.").format(what=what, label=label, batch=one.batch)


def _tell_recalled(asked: Asked, found: Sequence[BatchUse]) -> list[Row]:
    return [
        of_card(
            one.pk, one.card, one.at, _said_of_batch(one),
            who=f"{one.card.customer.name} {one.card.customer.phone}".strip(),
        )
        for one in found
    ]  # fmt: skip


LISTS: Mapping[str, AuditList] = {
    "unchecked": AuditList(unchecked, _tell_unchecked, CARD_COLUMNS),
    "unsourced": AuditList(unsourced, _tell_unsourced, CARD_COLUMNS),
    "uncalibrated": AuditList(uncalibrated, _tell_uncalibrated, CARD_COLUMNS, gathered=True),
    "tools": AuditList(tools.find, tools.tell, tools.COLUMNS),
    "late": AuditList(late, _tell_late, CARD_COLUMNS),
    "overridden": AuditList(overridden, _tell_overridden, CARD_COLUMNS),
    "records": AuditList(records.find, records.tell, CARD_COLUMNS),
    "amended": AuditList(amended, _tell_amended, {**CARD_COLUMNS, "changed": gettext_lazy("Old and new")}),
    "recalled": AuditList(recalled, _tell_recalled, {**CARD_COLUMNS, "who": gettext_lazy("Customer")}),
    "sags": AuditList(sags.find, sags.tell, sags.COLUMNS),
    "trail": AuditList(
        trail_words.find,
        trail_words.tell,
        {**CARD_COLUMNS, "address": gettext_lazy("From"), "changed": gettext_lazy("Old and new")},
    ),
}
