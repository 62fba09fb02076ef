"""`manage.py export`: a whole business as open files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from setups.data.files import digest_of, whole_file
from setups.data.travel import write_export
from shops.models import Business


class Command(BaseCommand):
    """Write everything of one business to a ZIP file of JSON and CSV."""

    help = "Write a whole business to a new file: its tables as JSON lines and CSV, with a manifest. No passwords."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file, and which business where there are several."""
        parser.add_argument("file", type=Path, help="The file to be made.")
        parser.add_argument("--business", help="The business's name, where the database holds several.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the file and say what is in it."""
        path: Path = options["file"]
        business = chosen(options["business"])
        with whole_file(path) as file:
            manifest = write_export(file, business)
        rows = sum(table["rows"] for table in manifest["tables"])
        self.stdout.write(f"{business.name}: {rows} rows in {len(manifest['tables'])} tables.")
        self.stdout.write(f"SHA-256 of the file: {digest_of(path)}")
        self.stdout.write("It holds personal data: whoever has it must erase there what is erased here.")


def chosen(name: str | None) -> Business:
    """Return the business that is meant."""
    found = list(Business.objects.order_by("pk"))
    if name is not None:
        found = [business for business in found if business.name == name]
    if not found:
        raise CommandError("There is no such business." if name else "No business is set up here yet.")
    if len(found) > 1:
        raise CommandError(f"Say which with --business: {', '.join(business.name for business in found)}.")
    return found[0]
