"""`manage.py demo`: build the invented business for trying Coilbook out, once."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from setups.demo.builder import ForeignBusinessError, build
from setups.demo.many import enlarge
from setups.demo.people import PASSWORD, sign_ins
from shops.models import Person


class Command(BaseCommand):
    """Build the demo in an empty database; leave it alone where it stands already."""

    help = "Build an invented business for trying Coilbook out; a second run changes nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the number of cards."""
        parser.add_argument(
            "--cards", metavar="N", type=int, default=0,
            help="make the demo's business large: add sealed cards, with bikes and customers, until it has N",
        )  # fmt: skip

    def handle(self, *args: Any, **options: Any) -> None:
        """Build, and say what was done and who can sign in."""
        try:
            secret = build(timezone.now().date())
        except ForeignBusinessError:
            raise CommandError(
                "This database holds a business of its own, and the demo is never mixed into one: nothing "
                "was changed. To try it, set COILBOOK_DATA to an empty folder or DATABASE_URL to another "
                "database."
            ) from None
        if secret is None:
            self.stdout.write("The demo is there already: nothing was changed.")
        else:
            self.stdout.write(f"The demo is built. A customer's page, shown this once: /record#{secret}")
        if options["cards"]:
            technician = Person.objects.get_by_natural_key("tamsin@quellmoor.example")
            added = enlarge(technician.shop, technician, options["cards"], self.stdout.write)
            self.stdout.write(f"{added} cards were added.")
        self.stdout.write(f"\nSign-ins, all with the password {PASSWORD}\n{sign_ins()}")
