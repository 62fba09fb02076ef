"""The audit trail: one line for each change, written in the change's own transaction."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from shops.access import Scoped
from shops.models import AuditEntry, Person, Shop

PERSONAL = "(personal)"


@dataclass(frozen=True)
class Actor:
    """Who acts, and the network address it is done from (None: at the machine itself)."""

    person: Person
    address: str | None = None


def record(
    actor: Actor,
    verb: str,
    subject: Scoped,
    before: Mapping[str, Any] | None,
    after: Mapping[str, Any] | None,
    reason: str = "",
) -> None:
    """Write one line: `actor` did `verb` to `subject`, whose changed fields were `before` and are `after`.

    The value of a field that the subject's model calls personal is replaced by a mark. Call it inside the
    transaction of the change.
    """
    line(actor, verb, subject, before, after, reason).save(force_insert=True)


def line(
    actor: Actor,
    verb: str,
    subject: Scoped,
    before: Mapping[str, Any] | None,
    after: Mapping[str, Any] | None,
    reason: str = "",
) -> AuditEntry:
    """Return what `record` writes, not yet written: a change of many rows writes all its lines at once."""
    return AuditEntry(
        business_id=actor.person.business_id,
        shop_id=_shop_of(subject, actor),
        person=actor.person,
        address=actor.address,
        verb=verb,
        subject=str(subject._meta.model_name),
        subject_id=subject.pk,
        before=_kept(subject, before),
        after=_kept(subject, after),
        reason=reason,
    )


def observe(of: Person, verb: str, subject: Scoped, address: str | None, after: Mapping[str, Any]) -> None:
    """Write one line about what nobody known did: it happened to `of`, at `address`."""
    AuditEntry.objects.create(
        business_id=of.business_id,
        shop_id=of.shop_id,
        address=address,
        verb=verb,
        subject=subject._meta.model_name,
        subject_id=subject.pk,
        after=_kept(subject, after),
    )


def record_of_customer(verb: str, subject: Any, after: Mapping[str, Any]) -> None:
    """Write one line for what a customer did through a link: nobody's name, and no address, which is personal.

    `subject` is a row with a `card`. Call it inside the transaction of the change.
    """
    AuditEntry.objects.create(
        business_id=subject.card.business_id,
        shop_id=subject.card.shop_id,
        verb=verb,
        subject=subject._meta.model_name,
        subject_id=subject.pk,
        after=_kept(subject, after),
    )


def changes(row: Scoped, wanted: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the fields of `wanted` that differ from `row`, as they are and as they will be."""
    differing = [name for name, value in wanted.items() if getattr(row, name) != value]
    return {name: getattr(row, name) for name in differing}, {name: wanted[name] for name in differing}


def _shop_of(subject: Scoped, actor: Actor) -> int | None:
    if isinstance(subject, Shop):
        return subject.pk
    if subject.shop_path is None:
        return actor.person.shop_id
    found: Any = subject
    for step in subject.shop_path.split("__"):
        found = getattr(found, step)
    return int(found.pk)


def _kept(subject: Scoped, fields: Mapping[str, Any] | None) -> Any:
    if fields is None:
        return None
    personal = subject.personal_fields
    shown = {name: PERSONAL if name in personal else _plain(value) for name, value in fields.items()}
    return json.loads(json.dumps(shown, cls=DjangoJSONEncoder))


def _plain(value: Any) -> Any:
    return value.pk if isinstance(value, models.Model) else value
