"""`manage.py import`: take an exported business into an empty installation."""  # noqa: N999  # the command's name

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from calc.refusal import Refusal
from setups.data.archive import BadArchiveError
from setups.data.travel import take_export_in
from setups.management.commands.found import password
from shops.access import everywhere
from shops.models import Person
from shops.serving_role import as_owner
from shops.verbs import give_first_password


class Command(BaseCommand):
    """Take in what `export` wrote."""

    help = "Take a business that was exported into an empty installation, with all ids, links and records."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file, and who shall sign in first."""
        parser.add_argument("file", type=Path, help="The file that `export` wrote.")
        parser.add_argument(
            "--owner", metavar="E-MAIL", required=True,
            help="An owner, who gets a new password here (asked for) and then gives one to everybody else.",
        )  # fmt: skip

    def handle(self, *args: Any, **options: Any) -> None:
        """Take it in, whole and verified, or say in a sentence why not."""
        try:
            with as_owner(), transaction.atomic():
                arrival = take_export_in(options["file"])
                person = owner(options["owner"])
                give_first_password(person, password())
        except (BadArchiveError, Refusal) as error:
            raise CommandError(str(error)) from None
        self.stdout.write(f"{arrival.businesses[0]}: {arrival.rows} rows; {arrival.records} sealed records hold.")
        if arrival.erased_again:
            self.stdout.write(f"{arrival.erased_again} erasures of since the export were done again.")
        self.stdout.write(f"{person.email} can sign in; the others have no password until an owner gives them one.")


def owner(email: str) -> Person:
    """Return the owner who signs in by this address."""
    people = everywhere(Person, why="the first sign-in to what was taken in").filter(email=email.strip().lower())
    found = people.filter(role=Person.Role.OWNER, is_active=True).first()
    if found is None:
        raise CommandError(f"{email} is no owner of this business who may sign in: nothing was taken in.")
    return found
