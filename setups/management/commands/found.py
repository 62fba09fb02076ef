"""`manage.py found`: set up a business, its first shop and its owner, who then adds everybody else."""

from __future__ import annotations

import getpass
import sys
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from calc.refusal import Refusal
from setups.demo.people import BUSINESS
from shops.models import Business, Person, Shop
from shops.verbs import found_business


class Command(BaseCommand):
    """Found a business in a database that does not hold the demo."""

    help = "Set up a business with its first shop and its owner, who signs in and adds the rest."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take all but the password, which is asked for and never on the command line."""
        parser.add_argument("--business", required=True, help="The business's name.")
        parser.add_argument("--shop", required=True, help="The first shop's name.")
        parser.add_argument("--code", required=True, help="The code that begins that shop's card numbers.")
        parser.add_argument("--owner", required=True, help="The owner's name.")
        parser.add_argument("--email", required=True, help="The owner's e-mail address, to sign in with.")
        parser.add_argument("--time-zone", default="UTC", help="The shop's time zone (default UTC).")
        parser.add_argument("--paper", default="A4", choices=["A4", "Letter"], help="Paper of the records.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Found the business, or say in a sentence what is wrong."""
        if Business.objects.filter(name=BUSINESS).exists():
            raise CommandError(
                "This database holds the demo, and a business is never mixed with it: set COILBOOK_DATA to "
                "an empty folder or DATABASE_URL to another database, and run start with --no-demo."
            )
        shop = {
            "name": options["shop"],
            "code": options["code"],
            "time_zone": options["time_zone"],
            "paper": options["paper"],
        }
        check(options["business"], shop, options["owner"], options["email"])
        owner = {"name": options["owner"], "email": options["email"], "password": password()}
        try:
            found_business(name=options["business"], shop=shop, owner=owner)
        except Refusal as refusal:
            raise CommandError(" ".join(problem.text for problem in refusal.problems)) from None
        self.stdout.write(f"{options['business']} is set up; {owner['email']} can sign in.")


def check(business: str, shop: dict[str, str], owner: str, email: str) -> None:
    """Raise CommandError naming every option that cannot be kept as it is."""
    unknown_yet = {"business", "shop", "password"}
    wrong = []
    rows = (
        ("--business", Business(name=business)),
        ("--shop", Shop(**shop)),
        ("--owner", Person(name=owner, email=email)),
    )
    for option, row in rows:
        try:
            row.clean_fields(exclude=unknown_yet)
        except ValidationError as error:
            wrong += [f"{option}, {field}: {' '.join(texts)}" for field, texts in error.message_dict.items()]
    if wrong:
        raise CommandError(" ".join(wrong))


def password() -> str:
    """Return the owner's password: typed twice at a terminal, else the first line of the input."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\n")
    typed = getpass.getpass("The owner's password: ")
    if typed != getpass.getpass("Once more: "):
        raise CommandError("The two passwords differ; nothing was set up.")
    return typed
