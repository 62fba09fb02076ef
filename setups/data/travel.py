"""A business leaves and arrives; everything is backed up and put back. All at once, checked, or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.db.transaction import get_connection

from setups.data import inventory, journal
from setups.data.archive import BACKUP, EXPORT, Archive, BadArchiveError, write
from setups.data.inventory import Model
from setups.data.journal import Entry
from setups.data.rows import anything, count_on, load, stored
from setups.data.snapshot import snapshot
from setups.record import append_only as records
from setups.record.verify import verify_shop
from shops import append_only as trail
from shops.access import Scoped, everywhere
from shops.models import Business, Shop


@dataclass(frozen=True)
class Arrival:
    """What was taken in: rows in all, sealed records that hold, erasures done again, and the businesses' names."""

    rows: int
    records: int
    erased_again: int
    businesses: list[str]


def write_export(file: IO[bytes], business: Business) -> dict[str, Any]:
    """Write a whole business to `file` as open files, and return the manifest.

    Left out is what `inventory.SECRETS` names: people have no password in the new place.
    """
    about = {"business": {"id": business.pk, "name": business.name}}
    with snapshot():
        return write(file, EXPORT, inventory.exported(), business.pk, about)


def write_backup(file: IO[bytes]) -> dict[str, Any]:
    """Write everything to `file`, of all businesses, password hashes included, and return the manifest."""
    with snapshot():
        return write(file, BACKUP, inventory.backed_up(), None, {})


def take_export_in(path: Path | str) -> Arrival:
    """Take a business into an empty installation, with every id, link and line of the trail.

    Raises BadArchiveError, and takes nothing in, where the installation is not empty, the file is not as it was
    written, or a sealed record does not hold.
    """
    models = inventory.exported()
    with Archive(path, EXPORT) as archive, transaction.atomic():
        archive.require(models, secrets=False)
        _require_empty()
        return _arrive(archive, models, journal.known(), secrets=False)


def take_backup_in(path: Path | str, *, replace: bool = False, erasures: Path | None = None) -> Arrival:
    """Put a backup back, and erase again what was erased since: what the journal in the data folder, the database as it
    stood and the file `erasures` name.

    Raises BadArchiveError, and changes nothing, where something stands here already and `replace` does not say that it
    goes, where the file is not as it was written, or a record does not hold.
    """
    models = inventory.backed_up()
    with Archive(path, BACKUP) as archive, transaction.atomic():
        archive.require(models, secrets=True)
        entries = [*journal.known(), *(journal.known(erasures) if erasures else [])]
        if replace:
            _empty()
        else:
            _require_empty()
        return _arrive(archive, models, entries, secrets=True)


def _arrive(archive: Archive, models: Sequence[Model], entries: Sequence[Entry], *, secrets: bool) -> Arrival:
    count = 0
    try:
        with transaction.atomic():
            for model in models:
                count += load(model, archive.rows(model), secrets=secrets)
            get_connection().check_constraints()
    except (DatabaseError, ValidationError, ValueError, TypeError, OverflowError) as error:
        why = str(error).splitlines()[0].strip("[]'")
        raise BadArchiveError(f"The file's rows do not go together: {why}") from error
    count_on(models)
    if not secrets:
        _require_one_business(models)
    followed = journal.follow(entries)
    names = [business.name for business in Business.objects.order_by("pk")]
    return Arrival(count, _verified(), followed, names)


def _verified() -> int:
    """Return how many sealed records hold; raises BadArchiveError for the first that does not."""
    total = 0
    for shop in everywhere(Shop, why="every record that was taken in is verified").order_by("pk"):
        finding = verify_shop(shop)
        if finding.failure is not None:
            number, why = finding.failure.number, finding.failure.why
            raise BadArchiveError(f"Record {number} of {shop} does not hold ({why}): nothing was taken in.")
        total += finding.records
    return total


def _require_empty() -> None:
    found = anything(inventory.backed_up())
    if found is not None:
        name = found._meta.verbose_name_plural
        raise BadArchiveError(f"This installation is not empty (it has {name}): nothing was taken in.")


def _require_one_business(models: Sequence[Model]) -> None:
    one = Business.objects.order_by("pk").values_list("pk", flat=True)
    if len(one) != 1:
        raise BadArchiveError("The file holds not one business: nothing was taken in.")
    for model in models:
        if issubclass(model, Scoped) and stored(model).exclude(**{model.business_path: one[0]}).exists():
            raise BadArchiveError(f"A row of {model._meta.label} belongs to no business of the file.")


def _empty() -> None:
    """Delete every row of ours, the trail's and the records' too, with their guards down for the moment."""
    connection = get_connection()
    gone = [model for model in inventory.in_order(_all_models()) if model._meta.app_label != "contenttypes"]
    trail.uninstall(connection)
    with connection.cursor() as cursor:
        for statement in records.lower_guard(connection.vendor):
            cursor.execute(statement)
        for model in reversed(gone):
            cursor.execute(f"DELETE FROM {connection.ops.quote_name(model._meta.db_table)}")  # noqa: S608
        connection.check_constraints()
        for statement in records.raise_guard(connection.vendor):
            cursor.execute(statement)
    trail.install(connection)


def _all_models() -> list[Model]:
    kept = {"auth", "contenttypes"}
    found = apps.get_models(include_auto_created=True)
    return [model for model in found if model._meta.app_label not in kept]
