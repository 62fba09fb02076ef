"""`manage.py verify`: does every sealed record still hold?"""

from __future__ import annotations

import re
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from setups.record.verify import verify_shop
from shops.access import everywhere
from shops.models import Shop

PRINTED = re.compile(r"(\d+):([0-9a-fA-F]{64})")


class Command(BaseCommand):
    """Recomputes all digests and links, shop by shop; fails when a record fails."""

    help = "Recompute every digest and link of the sealed records, and name the first one of a shop "
    "that fails, and why."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the shop and the printed heads."""
        parser.add_argument(
            "--shop", metavar="CODE", help="verify this shop only, by the code that begins its card numbers"
        )
        parser.add_argument(
            "--printed",
            metavar="NUMBER:HEAD",
            action="append",
            default=[],
            help="number and head as a PDF of that shop prints them; shows a newest record that was "
            "taken away",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Verify, print one line for each shop, and end with an error when a record failed."""
        printed = dict(_printed(text) for text in options["printed"])
        shops = everywhere(Shop, why="the command verifies the whole installation").select_related("business")
        if options["shop"]:
            shops = shops.filter(code=options["shop"])
        chosen = list(shops.order_by("business_id", "id"))
        if not chosen:
            raise CommandError("There is no such shop.")
        if printed and len(chosen) > 1:
            raise CommandError("A printed head belongs to one shop: name it with --shop.")
        failed = False
        for shop in chosen:
            finding = verify_shop(shop, printed)
            name = f"{shop.business}, {finding.shop}"
            if finding.failure is None:
                self.stdout.write(f"{name}: {finding.records} records hold.")
            else:
                failed = True
                self.stdout.write(f"{name}: record {finding.failure.number} FAILS: {finding.failure.why}.")
        if failed:
            raise CommandError("The records do not hold.")


def _printed(text: str) -> tuple[int, str]:
    match = PRINTED.fullmatch(text.replace(" ", ""))
    if match is None:
        raise CommandError(f"{text!r} is not NUMBER:HEAD, a number and 64 hexadecimal digits.")
    return int(match[1]), match[2].lower()
