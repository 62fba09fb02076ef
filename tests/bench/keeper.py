"""Makes the database of `killing` and says what in it is wrong: one JSON command a line, one answer a line."""

from __future__ import annotations

import json
import sys
from collections import Counter
from typing import Any

import django
from django.db import close_old_connections, connection, connections

django.setup()

from django.core.management import call_command  # noqa: E402  # models come after the set-up
from django.db.models import Count  # noqa: E402
from django.test import Client  # noqa: E402

from setups.models import Customer, JobCard, Reading, SealedRecord  # noqa: E402
from setups.record.verify import verify_shop  # noqa: E402
from shops.access import everywhere  # noqa: E402
from shops.models import AuditEntry, IdempotentReply, Shop  # noqa: E402
from tests import factories  # noqa: E402
from tests.setups.record.conftest import ready_card_maker  # noqa: E402

WHY = "the keeper looks at everything"
READINGS = 4


def seed(ready: int) -> dict[str, Any]:
    """Make the database: a shop, a signed-in technician, a card to measure, customers, cards to be sealed."""
    call_command("migrate", verbosity=0)
    shop = factories.ShopFactory(code="HY")
    technician, second = factories.PersonFactory(shop=shop), factories.PersonFactory(shop=shop)
    make = ready_card_maker(shop, technician, second)
    customers = [factories.CustomerFactory(business=shop.business).pk for _ in range(4)]
    card = factories.JobCardFactory(shop=shop, opened_by=technician)
    waiting = [make().pk for _ in range(ready)]
    # Last: a session that nobody uses for minutes is no longer a full sign-in, and sealing asks for one.
    client = Client()
    client.force_login(technician, "shops.sign_in.PersonBackend")
    return {
        "session": client.cookies["sessionid"].value,
        "bike": card.bike_id,
        "card": card.pk,
        "customers": customers,
        "ready": waiting,
    }


def check(done: list[dict[str, Any]], under_way: list[str], *, last: bool = False) -> list[str]:
    """Return, one sentence each, what was lost, done twice, left half-written, or broken in the chain."""
    by_what: dict[str, list[dict[str, Any]]] = {}
    for one in done:
        by_what.setdefault(one["what"], []).append(one)
    wrong = [
        *_cards(by_what.get("card", []), under_way),
        *_readings(by_what.get("readings", []), under_way),
        *_customers(by_what.get("customer", [])),
        *_records(by_what.get("seal", []), under_way),
    ]
    if everywhere(IdempotentReply, why=WHY).filter(status=0).exists():
        wrong.append("a reply was kept without its change")
    if last and connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            wrong += [] if (found := cursor.fetchone()[0]) == "ok" else [f"integrity check: {found}"]
    return wrong


def _once(what: str, found: Counter[str], done: list[dict[str, Any]], under_way: list[str]) -> list[str]:
    keys = {one["key"] for one in done}
    wrong = [f"{what} {key} was acknowledged and is lost" for key in keys - set(found)]
    wrong += [f"{what} {key} was done {times} times" for key, times in found.items() if times > 1]
    return wrong + [f"{what} {key} was sent by nobody" for key in set(found) - keys - set(under_way)]


def _cards(done: list[dict[str, Any]], under_way: list[str]) -> list[str]:
    cards = everywhere(JobCard, why=WHY).filter(complaint__startswith="card-")
    found = {card.complaint: card for card in cards.annotate(ends=Count("settings"))}
    wrong = _once("card", Counter(cards.values_list("complaint", flat=True)), done, under_way)
    trail = everywhere(AuditEntry, why=WHY).filter(verb="open card", subject="jobcard")
    entered = Counter(trail.values_list("subject_id", flat=True))
    shop = everywhere(Shop, why=WHY).get(code="HY")
    for key, card in found.items():
        if card.ends != 2 or entered[card.pk] != 1:
            wrong.append(f"card {key} is half-written: {card.ends} settings, {entered[card.pk]} lines in the trail")
    if shop.cards_opened != len(found):
        wrong.append(f"{shop.cards_opened} numbers were given out for {len(found)} cards")
    return wrong


def _readings(done: list[dict[str, Any]], under_way: list[str]) -> list[str]:
    rows = everywhere(Reading, why=WHY).filter(instrument__startswith="tape-")
    found = Counter(rows.values_list("instrument", flat=True))
    wrong = [f"batch {key} has {many} of {READINGS} readings" for key, many in found.items() if many != READINGS]
    return wrong + _once("batch", Counter(set(found)), done, under_way)


def _customers(done: list[dict[str, Any]]) -> list[str]:
    newest: dict[int, dict[str, Any]] = {}
    for one in done:
        if one["customer"] not in newest or newest[one["customer"]]["version"] < one["version"]:
            newest[one["customer"]] = one
    wrong = []
    for row in everywhere(Customer, why=WHY).filter(pk__in=newest):
        told = newest[row.pk]
        # One more may have been saved whose acknowledgement was lost.
        if row.version < told["version"] or (row.version == told["version"] and row.notes != told["key"]):
            wrong.append(f"customer {row.pk}: {told['key']} was acknowledged, {row.notes} is kept")
        changes = everywhere(AuditEntry, why=WHY).filter(verb="change customer", subject_id=row.pk).count()
        if changes != row.version - 1:
            wrong.append(f"customer {row.pk}: version {row.version}, {changes} lines in the trail")
    return wrong


def _records(done: list[dict[str, Any]], under_way: list[str]) -> list[str]:
    shop = everywhere(Shop, why=WHY).get(code="HY")
    finding = verify_shop(shop, {one["number"]: one["head"] for one in done})
    wrong = [] if finding.failure is None else [f"record {finding.failure.number}: {finding.failure.why}"]
    sealed = Counter(f"seal-{pk}" for pk in everywhere(SealedRecord, why=WHY).values_list("card_id", flat=True))
    wrong += _once("seal", sealed, done, under_way)
    steps = everywhere(JobCard, why=WHY).filter(step="sealed").values_list("pk", flat=True)
    lines = everywhere(AuditEntry, why=WHY).filter(verb="seal card").values_list("subject_id", flat=True)
    for name, found in (("step", steps), ("trail", lines)):
        if Counter(f"seal-{pk}" for pk in found) != sealed:
            wrong.append(f"the {name} and the records name different cards as sealed")
    return wrong


def main() -> None:
    """Do one command a line until the input ends."""
    commands = {"seed": seed, "check": check}
    for line in sys.stdin:
        command = json.loads(line)
        close_old_connections()
        connections.close_all()  # the database server may have been broken off meanwhile
        print(json.dumps(commands[command.pop("do")](**command)), flush=True)


if __name__ == "__main__":
    main()
