"""`manage.py restore`: put a backup back, whole and verified, and erase again what was erased since."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from setups.data.archive import BadArchiveError
from setups.data.travel import take_backup_in
from shops.serving_role import as_owner


class Command(BaseCommand):
    """Put back what `backup` wrote."""

    help = "Put a backup back into an empty installation; stop the service first."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file, whether what stands here goes, and another journal."""
        parser.add_argument("file", type=Path, help="The file that `backup` wrote.")
        parser.add_argument(
            "--replace", action="store_true", help="Delete everything that stands here first, in the same step."
        )
        parser.add_argument(
            "--erasures", type=Path, metavar="FILE",
            help="Another journal of erasures to follow, besides erasures.jsonl in the data folder.",
        )  # fmt: skip

    def handle(self, *args: Any, **options: Any) -> None:
        """Restore, or say in a sentence why nothing was changed."""
        try:
            with as_owner():
                arrival = take_backup_in(options["file"], replace=options["replace"], erasures=options["erasures"])
        except BadArchiveError as error:
            raise CommandError(str(error)) from None
        except OSError as error:
            raise CommandError(f"{error.filename} cannot be read: {error.strerror}.") from None
        names = ", ".join(arrival.businesses) or "no business"
        self.stdout.write(f"{names}: {arrival.rows} rows are back; {arrival.records} sealed records hold.")
        self.stdout.write(f"{arrival.erased_again} erasures of since the backup were done again.")
        self.stdout.write("Everybody signs in anew.")
