"""Which tables travel in an export of a business and in a backup of everything, and what is left out of them, and why.

A new model of a business's rows travels by itself. A model or a field that is not to travel is named here with its
reason; a test fails for whatever looks like a secret and is named neither as left out nor as kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.contrib.auth.hashers import make_password
from django.db import models

from shops.access import Scoped
from shops.models import Business

Model = type[models.Model]

NOT_EXPORTED: Mapping[str, str] = {
    "shops.IdempotentReply": "answers kept some days for retries of this installation's own clients",
    "shops.Tablet": "a device that is enrolled with this installation",
    "shops.Pin": "opens this installation's tablets; people choose a new one",
    "shops.PinTries": "counts of wrong PINs",
    "shops.SecondFactor": "a secret shared with a person's code app; people set up a new one",
    "shops.RecoveryCode": "stands in for a second factor, which is not exported",
    "shops.Invitation": "a link into this installation",
    "shops.Recovery": "a link into this installation",
    "shops.Tries": "counts of tries, of no business",
}
"""Tables of a business's rows that stay behind when the business leaves; a backup keeps those not named below."""

NOT_BACKED_UP: Mapping[str, str] = {
    "shops.IdempotentReply": "answers kept some days for retries; they may hold what was erased since",
    "shops.PinTries": "counts of wrong PINs, which start anew",
    "shops.Tries": "counts of tries, which lapse in minutes",
    "auth": "Django's groups and permissions, which nothing here uses",
    "contenttypes": "Django's list of its own tables, made anew by migrations",
    "sessions": "who is signed in now: after a restore everybody signs in again",
    "axes": "counts of wrong sign-ins, which lapse in minutes",
}
"""Tables, or whole applications, that no backup holds."""


@dataclass(frozen=True)
class Secret:
    """A field whose value is not exported: why, and what stands in its place after an import."""

    why: str
    instead: Callable[[], Any]


SECRETS: Mapping[str, Secret] = {
    "shops.Person.password": Secret("people choose a new one in the new installation", lambda: make_password(None)),
}
"""Left out of an export; a backup holds them, and is to be kept like the database itself."""

KEPT: Mapping[str, str] = {
    "setups.PersonalValue.salt": "without it nobody can tell that a kept value is the one that the record commits to",
    "setups.CustomerLink.secret_sha256": "a hash of 256 random bits, which opens nothing; links go on working",
    "setups.EstimateAsk.secret_sha256": "the same of an estimate's link",
}
"""Fields that look like secrets by their names, and travel all the same."""

HARMLESS = frozenset({
    "setups.CautionRead.key", "setups.BatchUse.batch_key", "setups.BuiltSag.model_key", "setups.SagTotal.model_key",
})  # fmt: skip
"""Fields whose names only sound like a secret's."""


def exported() -> list[Model]:
    """Return the models of an export, each after those that it refers to."""
    return in_order(
        model
        for model in apps.get_models(include_auto_created=True)
        if (model is Business or issubclass(model, Scoped)) and model._meta.label not in NOT_EXPORTED
    )


def backed_up() -> list[Model]:
    """Return the models of a backup, each after those that it refers to."""
    return in_order(
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.label not in NOT_BACKED_UP and model._meta.app_label not in NOT_BACKED_UP
    )


def in_order(chosen: Iterable[Model]) -> list[Model]:
    """Return the models so that each comes after the ones it refers to, as far as there is such an order."""
    waiting = sorted(chosen, key=lambda model: model._meta.label)
    found: list[Model] = []
    while waiting:
        ready = [model for model in waiting if not _needs(model) & set(waiting) - {model}]
        # In a ring of references any order does: the database checks them at the end of the transaction.
        found += ready or waiting
        waiting = [model for model in waiting if model not in found]
    return found


def _needs(model: Model) -> set[Model]:
    return {field.related_model for field in fields_of(model) if field.is_relation}


def fields_of(model: Model, *, secrets: bool = True) -> list[Any]:
    """Return the columns of a model, those of `SECRETS` only if asked for."""
    found = list(model._meta.concrete_fields)
    return found if secrets else [field for field in found if label(field) not in SECRETS]


def label(field: Any) -> str:
    """Return a field's name in the tables above."""
    return f"{field.model._meta.label}.{field.name}"
