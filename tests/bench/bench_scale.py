"""What lists, searches and audits take with ten thousand job cards and with a million: median, 95th percentile, ratio.

Run it with `bash .ci/with-postgres python tests/bench/bench_scale.py [small large]`; without DATABASE_URL it takes
SQLite. Two businesses are made in two databases of one server, by `manage.py demo --cards N`; databases that hold
them already (DATABASE_URL names the server, and `_small` and `_large` follow its database) are asked as they are.

Two processes ask in turn, address by address, and take turns at being first, so that whatever else the machine does
falls on both; garbage is collected in between. One JSON line says all. Cards asked about are spread over the whole
business, deep pages begin at them; those of lists of rare rows begin in the newer half, where the smaller business
too has a page of them left.
"""

from __future__ import annotations

import contextlib
import gc
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlencode, urlsplit

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
SMALL, LARGE, ROUNDS, WARM_UP = 10_000, 1_000_000, 60, 5
AUDITS = (
    "unchecked", "unsourced", "uncalibrated", "tools", "late", "overridden", "records", "amended", "sags", "trail",
)  # fmt: skip


def addresses(card: Any, newer: Any, person: Any) -> dict[str, str]:
    """Return the addresses asked of one card by one manager: lists, words that find it, audits, deep pages; those of
    rare rows begin at the `newer` card.
    """
    from setups.models import SealedRecord, TorqueLine  # noqa: PLC0415  # models come after the set-up
    from shops.access import everywhere, rows  # noqa: PLC0415
    from shops.models import AuditEntry  # noqa: PLC0415

    bike, customer, today = card.bike, card.customer, date.today()

    def last_before(model: Any, **narrowed: Any) -> str:
        held = rows(model, person).filter(**narrowed).order_by("-id").values_list("id", flat=True).first()
        return f"after-{held}"

    line = last_before(TorqueLine, card__lte=newer.pk, card__gte=newer.pk - 50)
    entry = last_before(AuditEntry, subject="jobcard", subject_id=card.pk)
    link = last_before(SealedRecord, card__lte=newer.pk, card__gte=newer.pk - 50)
    batch = everywhere(type(card), why="the bench asks").filter(pk__lte=card.pk, batch_uses__isnull=False)
    used = batch.order_by("-pk").values_list("batch_uses__batch", flat=True).first()
    years = {"since": today - timedelta(days=6 * 365), "until": today - timedelta(days=365)}
    wanted: dict[str, tuple[str, dict[str, Any]]] = {
        "cards": ("cards", {}),
        "cards, step": ("cards", {"step": "received"}),
        "cards, shop": ("cards", {"shop": card.shop_id}),
        "cards, page 20": ("cards", {"page": 20}),
        "cards, deep": ("cards", {"page": f"after-{card.pk}"}),
        "cards, plate": ("cards", {"search": bike.plate}),
        "cards, end of frame number": ("cards", {"search": bike.frame_number[-8:]}),
        "cards, name": ("cards", {"search": customer.name}),
        "cards, make": ("cards", {"search": bike.make}),
        "cards, make, deep": ("cards", {"search": bike.make, "page": f"after-{card.pk}"}),
        "cards, number": ("cards", {"search": card.number}),
        "bikes": ("bikes", {}),
        "bikes, deep": ("bikes", {"page": f"after-{bike.pk}"}),
        "bikes, plate": ("bikes", {"search": bike.plate}),
        "customers": ("customers", {}),
        "customers, deep": ("customers", {"page": f"after-{customer.pk}"}),
        "customers, phone": ("customers", {"search": customer.phone.replace(" ", "")}),
        "history": (f"bikes/{bike.pk}/history", {}),
        "trail": ("trail", {}),
        "trail, deep": ("trail", {"page": entry}),
        "trail of a card": ("trail", {"subject": "jobcard", "subject_id": card.pk}),
        **{f"audit {about}": (f"audit/{about}", {}) for about in AUDITS},
        **{f"audit {about}, days": (f"audit/{about}", years) for about in AUDITS if about != "tools"},
        "audit recalled": ("audit/recalled", {"batch": used}),
        "audit unchecked, shop": ("audit/unchecked", {"shop": card.shop_id}),
        "audit unchecked, deep": ("audit/unchecked", {"page": line}),
        "audit unsourced, deep": ("audit/unsourced", {"page": line}),
        "audit amended, deep": ("audit/amended", {"page": link}),
        "audit trail, person": ("audit/trail", {"who": card.opened_by_id}),
        "audit trail, kind": ("audit/trail", {"kind": "jobcard"}),
        "audit trail, shop": ("audit/trail", {"shop": card.shop_id}),
        "audit trail, deep": ("audit/trail", {"page": entry}),
        "audit file of a batch": ("audit/recalled/file", {"batch": used}),
    }
    return {name: f"/api/{path}/?{urlencode(query)}" for name, (path, query) in wanted.items()}


class Asker:
    """Makes one of the businesses and asks it; runs in a process of its own."""

    def __init__(self) -> None:
        """Sign the demo's manager in."""
        from django.test import Client  # noqa: PLC0415

        self.client = Client()
        self.cards: Any = None
        self.person: Any = None
        self.addresses: dict[str, str] = {}
        self.first = self.last = 0

    def make(self, cards: int) -> dict[str, Any]:
        """Make the business and say how long it took, and the memory that this process needed at most."""
        import resource  # noqa: PLC0415  # not on every system

        from django.core.management import call_command  # noqa: PLC0415

        from setups.models import JobCard, SealedRecord  # noqa: PLC0415
        from shops.access import everywhere  # noqa: PLC0415
        from shops.models import Person  # noqa: PLC0415

        call_command("migrate", verbosity=0)
        records = everywhere(SealedRecord, why="the bench counts")
        before, begin = records.count(), time.monotonic()
        call_command("demo", cards=cards, stdout=sys.stderr)
        took = time.monotonic() - begin
        self.person = Person.objects.get_by_natural_key("maren@quellmoor.example")
        self.client.force_login(self.person)
        self.cards = everywhere(JobCard, why="the bench asks").filter(
            business=self.person.business_id, bike__isnull=False
        )
        self.first, self.last = self.cards.earliest("id").pk, self.cards.filter(step="sealed").latest("id").pk
        seals = records.count() - before
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        return {"took_s": round(took, 1), "seals": seals, "seals_per_s": round(seals / took), "peak_mb": peak}

    def turn_to(self, number: int) -> list[str]:
        """Turn to one card, and return the names of the addresses asked of it."""
        # The collector's long pauses, a tenth of a second once in some sixty requests, are no address's own.
        gc.collect()
        gc.freeze()
        self.client.force_login(self.person)  # a session left alone for minutes would be no full sign-in any more
        self.addresses = addresses(self._card(number), self._card(number, newer=True), self.person)
        return list(self.addresses)

    def time(self, name: str) -> float:
        """Return how long an address takes, s."""
        begin = time.perf_counter()
        self._get(self.addresses[name])
        return time.perf_counter() - begin

    def count(self, name: str) -> int:
        """Return how many queries an address takes."""
        from django.db import connection  # noqa: PLC0415
        from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

        self._get(self.addresses[name])
        with CaptureQueriesContext(connection) as caught:
            self._get(self.addresses[name])
        return len(caught)

    def _card(self, number: int, *, newer: bool = False) -> Any:
        rounds = ROUNDS + WARM_UP
        first = (self.first + self.last) // 2 if newer else self.first
        near = first + (self.last - first) * (number * 37 % rounds) // rounds
        return self.cards.filter(id__gte=near).select_related("bike", "customer").order_by("id").first()

    def _get(self, address: str) -> None:
        answer = self.client.post(address) if "/file/" in address else self.client.get(address)
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        if answer.status_code != 200:
            raise SystemExit(f"{address} answered {answer.status_code}: {content[:300]!r}")


def serve() -> None:
    """Do one command a line until the input ends."""
    import django  # noqa: PLC0415

    django.setup()
    asker = Asker()
    for line in sys.stdin:
        do, value = json.loads(line)
        print(json.dumps(getattr(asker, do)(value)), flush=True)


class Process:
    """An `Asker` over there."""

    def __init__(self, environ: dict[str, str]) -> None:
        """Start it with its database."""
        self.process = subprocess.Popen(
            [sys.executable, __file__, "serve"], env={**os.environ, **environ}, cwd=ROOT, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip

    def __call__(self, do: str, value: int | str) -> Any:
        """Have one command done and return its answer."""
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(json.dumps([do, value]) + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        if not answer:
            raise SystemExit(f"The asker ended at {do} {value}.")
        return json.loads(answer)


def environments(folder: Path) -> list[dict[str, str]]:
    """Return the environments of both processes: two folders, or two databases of the server in DATABASE_URL."""
    found = []
    for name in ("small", "large"):
        environ = {"COILBOOK_DATA": str(folder / name), "DJANGO_SETTINGS_MODULE": "shops.site.settings"}
        environ["COILBOOK_HOSTS"] = "testserver"
        if url := os.environ.get("DATABASE_URL"):
            environ["DATABASE_URL"] = f"{url}_{name}"
            _create(url, f"{urlsplit(url).path.lstrip('/')}_{name}")
        found.append(environ)
    return found


def _create(url: str, name: str) -> None:
    """Create a database, unless an earlier run has left it there."""
    import psycopg  # noqa: PLC0415  # SQLite needs none

    with psycopg.connect(url, autocommit=True) as connection, contextlib.suppress(psycopg.errors.DuplicateDatabase):
        connection.execute(f'CREATE DATABASE "{name}"')  # type: ignore[call-overload]  # a name of our own


def told(times: list[dict[str, list[float]]], counts: list[dict[str, int]]) -> dict[str, Any]:
    """Return medians and percentiles, ms, of small and large, with their ratios and the queries of both."""

    def figures(name: str) -> dict[str, Any]:
        medians = [statistics.median(each[name]) * 1000 for each in times]
        tails = [statistics.quantiles(each[name], n=20)[-1] * 1000 for each in times]
        return {
            "median_ms": [round(one, 1) for one in medians],
            "p95_ms": [round(one, 1) for one in tails],
            "median_ratio": round(medians[1] / medians[0], 2),
            "p95_ratio": round(tails[1] / tails[0], 2),
            "queries": [each[name] for each in counts],
        }

    return {name: figures(name) for name in times[0]}


def main(small: int = SMALL, large: int = LARGE) -> None:
    """Make both businesses, ask them in turn, and print one line."""
    with tempfile.TemporaryDirectory() as folder:
        both = [Process(environ) for environ in environments(Path(folder))]
        made = [process("make", cards) for process, cards in zip(both, (small, large), strict=True)]
        print(json.dumps(made), file=sys.stderr)
        times: list[dict[str, list[float]]] = [{}, {}]
        for number in range(ROUNDS + WARM_UP):
            names, _ = (process("turn_to", number) for process in both)
            for name in names:
                for place in (0, 1) if number % 2 else (1, 0):
                    took = both[place]("time", name)
                    if number >= WARM_UP:
                        times[place].setdefault(name, []).append(took)
        counts = [{name: process("count", name) for name in names} for process in both]
        for process in both:
            process.process.communicate()
    lists = told(times, counts)
    answer = {
        "bench": "scale",
        "database": "postgresql" if "DATABASE_URL" in os.environ else "sqlite",
        "cards": [small, large],
        "made": made,
        "rounds": ROUNDS,
        "load_of_the_machine": [round(one, 1) for one in os.getloadavg()],
        "lists": lists,
        "over_one_and_a_half": sorted(
            name for name, one in lists.items() if max(one["median_ratio"], one["p95_ratio"]) > 1.5
        ),
        # A list is counted, by one query more, where it has a second page.
        "more_queries": sorted(name for name, one in lists.items() if one["queries"][1] > one["queries"][0] + 1),
    }
    print(json.dumps(answer))


if __name__ == "__main__":
    if sys.argv[1:] == ["serve"]:
        serve()
    else:
        main(*(int(each) for each in sys.argv[1:]))
