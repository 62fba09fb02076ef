"""The file in which a business, or everything, travels: a ZIP of open text files with a manifest.

    manifest.json                what this is, when and by which version made, and each table's rows, bytes and SHA-256
    tables/setups.bike.jsonl     one JSON object a row, every column; these alone are read back
    spreadsheets/setups.bike.csv the same for people (an export only)

Nothing of a file is ever unpacked to a place that it names: tables are read as streams, by the names we give them.
"""

from __future__ import annotations

import hashlib
import json
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO, Any

from django.db.migrations.loader import MigrationLoader
from django.db.transaction import get_connection
from django.utils import timezone

from setups.data.inventory import SECRETS, Model, fields_of
from setups.data.rows import line, written
from setups.record.document import program
from shops import spreadsheet

EXPORT, BACKUP = "coilbook-business/1", "coilbook-backup/1"
MOST_MANIFEST = 1024 * 1024
DAMAGED = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, RuntimeError, ValueError)
LONGEST_LINE = 128 * 1024 * 1024
MOST_SHRINKING = 200
"""How many times smaller than its text a table may be packed: rows of JSON come to some 30, a trap to 1000."""
_NAME = re.compile(r"(tables/[a-z_]+\.[a-z_]+\.jsonl|spreadsheets/[a-z_]+\.[a-z_]+\.csv|manifest\.json)")


class BadArchiveError(Exception):
    """The file cannot be taken in; the text is one sentence that says why."""


def schema() -> dict[str, str]:
    """Return the last migration of each of our applications: the shape that the tables have."""
    loader = MigrationLoader(get_connection())
    leaves = [node for node in loader.graph.leaf_nodes() if node[0] in {"shops", "setups"}]
    return dict(sorted(leaves))


def table_name(model: Model) -> str:
    """Return the name of a model's table in the file."""
    return str(model._meta.label_lower)


def write(
    file: IO[bytes], kind: str, models: Sequence[Model], business: int | None, about: Mapping[str, Any]
) -> dict[str, Any]:
    """Write the models' rows to `file` and return the manifest. Call it in one snapshot of the database."""
    whole = kind == BACKUP
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        tables = [_write_table(packed, model, business, whole=whole) for model in models]
        manifest = {
            "format": kind,
            "program": program(),
            "made_at": timezone.now().isoformat(),
            "schema": schema(),
            **about,
            "left_out": {} if whole else {name: secret.why for name, secret in SECRETS.items()},
            "tables": tables,
        }
        packed.writestr("manifest.json", json.dumps(manifest, indent=1, ensure_ascii=False))
    return manifest


def _write_table(packed: zipfile.ZipFile, model: Model, business: int | None, *, whole: bool) -> dict[str, Any]:
    name = f"tables/{table_name(model)}.jsonl"
    digest, size, count = hashlib.sha256(), 0, 0
    with packed.open(name, "w", force_zip64=True) as entry:
        for row in written(model, business, secrets=whole):
            text = line(row)
            entry.write(text)
            digest.update(text)
            size, count = size + len(text), count + 1
    if not whole:
        _write_spreadsheet(packed, model, business)
    columns = [field.attname for field in fields_of(model, secrets=whole)]
    return {
        "table": table_name(model), "file": name, "rows": count, "bytes": size, "sha256": digest.hexdigest(),
        "columns": columns,
    }  # fmt: skip


def _write_spreadsheet(packed: zipfile.ZipFile, model: Model, business: int | None) -> None:
    """Write the table for people; bytes are left to the other form."""
    columns = [f.attname for f in fields_of(model, secrets=False) if f.get_internal_type() != "BinaryField"]

    def cells() -> Iterator[list[Any]]:
        for row in written(model, business, secrets=False):
            yield [_cell(row[column]) for column in columns]

    with packed.open(f"spreadsheets/{table_name(model)}.csv", "w", force_zip64=True) as entry:
        for text in spreadsheet.lines(columns, cells()):
            entry.write(text.encode("utf-8", "replace"))


def _cell(value: Any) -> Any:
    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict | list) else value


class Archive:
    """A file that was written by `write`, opened to be read back. Raises BadArchiveError for whatever else it is."""

    def __init__(self, path: Path | str, kind: str) -> None:
        """Open the file and check its list of contents and its manifest."""
        try:
            self._packed = zipfile.ZipFile(path)
        except OSError as error:
            raise BadArchiveError(f"{path} cannot be read: {error.strerror}.") from None
        except DAMAGED:
            raise BadArchiveError(f"{path} is no whole ZIP file: it was cut short, or is something else.") from None
        self._check_names()
        self.manifest = self._manifest(kind)
        self._tables = {entry["table"]: entry for entry in self.manifest["tables"]}

    def __enter__(self) -> Archive:
        """Return the archive, which is closed at the end."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close the file."""
        self._packed.close()

    def require(self, models: Sequence[Model], *, secrets: bool) -> None:
        """Refuse a file of another version: other tables or other columns than are here."""
        here = {table_name(model): [f.attname for f in fields_of(model, secrets=secrets)] for model in models}
        there = {name: entry["columns"] for name, entry in self._tables.items()}
        if self.manifest["schema"] != schema() or here != there:
            made, now = self.manifest["program"], program()
            raise BadArchiveError(
                f"The file was written by another version ({made}, tables as after "
                f"{_leaves(self.manifest['schema'])}) than this one ({now}, {_leaves(schema())}): "
                "take it in with the version that wrote it, then bring that one up to date."
            )

    def rows(self, model: Model) -> Iterator[dict[str, Any]]:
        """Yield a table's rows; raises BadArchiveError, at the latest after the last, where they are not as written."""
        entry = self._tables[table_name(model)]
        digest, size, count = hashlib.sha256(), 0, 0
        try:
            with self._packed.open(entry["file"]) as lines:
                while text := lines.readline(LONGEST_LINE):
                    size, count = size + len(text), count + 1
                    if size > entry["bytes"]:
                        break
                    digest.update(text)
                    yield _object(text)
        except DAMAGED:
            raise BadArchiveError(f"Row {count} of {entry['file']} cannot be read: the file is damaged.") from None
        if (size, count, digest.hexdigest()) != (entry["bytes"], entry["rows"], entry["sha256"]):
            raise BadArchiveError(f"{entry['file']} is not what was written: its digest or its length differs.")

    def _check_names(self) -> None:
        names = [info.filename for info in self._packed.infolist()]
        strange = next((name for name in names if not _NAME.fullmatch(name) or names.count(name) > 1), None)
        if strange is not None:
            raise BadArchiveError(f"The file holds {strange[:80]!r}, which none of ours does: nothing was taken in.")
        for info in self._packed.infolist():
            if info.file_size > MOST_MANIFEST and info.file_size > MOST_SHRINKING * max(info.compress_size, 1):
                raise BadArchiveError(f"{info.filename} would unpack to {info.file_size} bytes: that is no table.")

    def _manifest(self, kind: str) -> dict[str, Any]:
        bad = BadArchiveError("The file has no manifest that can be read: it is no export and no backup of ours.")
        try:
            info = self._packed.getinfo("manifest.json")
            if info.file_size > MOST_MANIFEST:
                raise bad
            manifest = json.loads(self._packed.read(info))
            found = str(manifest["format"])
            good = isinstance(manifest["schema"], dict) and isinstance(manifest["program"], str)
            for entry in manifest["tables"]:
                good = good and entry["file"] == f"tables/{entry['table']}.jsonl"
                good = good and all(isinstance(entry[key], int) for key in ("rows", "bytes"))
                good = good and isinstance(entry["sha256"], str) and isinstance(entry["columns"], list)
                self._packed.getinfo(entry["file"])
        except (KeyError, TypeError, AttributeError, *DAMAGED):
            raise bad from None
        if not good:
            raise bad
        if found != kind:
            raise BadArchiveError(f"The file is a {found[:40]}, where a {kind} is wanted.")
        return dict(manifest)


def _leaves(schema: Mapping[str, Any]) -> str:
    return ", ".join(f"{app} {name}" for app, name in sorted(schema.items()))


def _object(text: bytes) -> dict[str, Any]:
    row = json.loads(text)
    if not isinstance(row, dict):
        raise ValueError("A row is an object.")
    return row
