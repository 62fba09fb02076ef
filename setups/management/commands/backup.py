"""`manage.py backup`: everything in one file, while the service goes on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from setups.data.files import digest_of, whole_file
from setups.data.travel import write_backup


class Command(BaseCommand):
    """Write a backup that either database can be restored from."""

    help = "Write everything, password hashes included, to a new file; `restore` puts it back on SQLite or PostgreSQL."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file."""
        parser.add_argument("file", type=Path, help="The file to be made.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the file and say what is in it."""
        path: Path = options["file"]
        with whole_file(path) as file:
            manifest = write_backup(file)
        rows = sum(table["rows"] for table in manifest["tables"])
        self.stdout.write(f"{rows} rows in {len(manifest['tables'])} tables, as at one moment.")
        self.stdout.write(f"SHA-256 of the file: {digest_of(path)}")
        self.stdout.write("Keep it like the database itself, and keep the journal of erasures (erasures.jsonl) apart.")
