"""What lists and searches take with ten thousand job cards, and with a million: the median and the 95th percentile.

Run it with `bash .ci/with-postgres python tests/bench/bench_scale.py [cards]`; without DATABASE_URL it takes SQLite.
The demo's business is made large in the same database and asked again; one JSON line says both, and their ratio.
"""

from __future__ import annotations

import json
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
SMALL, LARGE, ROUNDS = 10_000, 1_000_000, 60


def addresses(card: Any) -> dict[str, str]:
    """Return the addresses asked of one card: its lists, and the words that find it."""
    bike, customer = card.bike, card.customer
    return {
        "cards": "/api/cards/",
        "cards_by_step": "/api/cards/?step=received",
        "cards_of_shop": f"/api/cards/?shop={card.shop_id}",
        "search_plate": f"/api/cards/?search={bike.plate.replace(' ', '+')}",
        "search_name": f"/api/cards/?search={customer.name.replace(' ', '+')}",
        "search_frame_end": f"/api/cards/?search={bike.frame_number[-8:]}",
        "search_make": f"/api/cards/?search={bike.make}",
        "search_bikes": f"/api/bikes/?search={bike.plate.replace(' ', '+')}",
        "search_customers": f"/api/customers/?search={customer.phone.replace(' ', '')}",
        "history": f"/api/bikes/{bike.pk}/history/",
        "trail": "/api/trail/",
        "trail_of_card": f"/api/trail/?subject=jobcard&subject_id={card.pk}",
    }


def asked(client: Any, business: int) -> dict[str, list[float]]:
    """Return how long each address takes, s, asked of cards spread over the whole business."""
    from setups.models import JobCard  # noqa: PLC0415  # models come after the set-up
    from shops.access import everywhere  # noqa: PLC0415

    cards = everywhere(JobCard, why="the bench asks").filter(business=business, bike__isnull=False)
    first, last = cards.order_by("id").values_list("id", flat=True).first(), cards.latest("id").pk
    times: dict[str, list[float]] = {}
    for number in range(ROUNDS + 5):
        near = first + (last - first) * (number * 37 % (ROUNDS + 5)) // (ROUNDS + 5)
        card = cards.filter(id__gte=near).select_related("bike", "customer").order_by("id").first()
        for name, address in addresses(card).items():
            begin = time.perf_counter()
            answer = client.get(address)
            took = time.perf_counter() - begin
            if answer.status_code != 200:
                raise SystemExit(f"{address} answered {answer.status_code}: {answer.content[:300]!r}")
            if number >= 5:
                times.setdefault(name, []).append(took)
    return times


def main(large: int = LARGE) -> None:
    """Make the business, ask, make it large, ask again, and print one line."""
    import django  # noqa: PLC0415  # the database's folder must be named first

    django.setup()
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import connection  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    from shops.models import Person  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    told: dict[str, Any] = {"bench": "scale", "database": connection.vendor, "rounds": ROUNDS, "cards": [SMALL, large]}
    measured = []
    for cards in (SMALL, large):
        begin = time.monotonic()
        with open(os.devnull, "w") as nowhere:
            call_command("demo", cards=cards, stdout=nowhere)
        told.setdefault("made_s", []).append(round(time.monotonic() - begin))
        manager = Person.objects.get_by_natural_key("maren@quellmoor.example")
        client = Client()
        client.force_login(manager)
        measured.append(asked(client, manager.business_id))
    told["ms"] = {
        name: {
            "median": [round(statistics.median(each[name]) * 1000, 2) for each in measured],
            "p95": [round(statistics.quantiles(each[name], n=20)[-1] * 1000, 2) for each in measured],
            "ratio": round(statistics.median(measured[1][name]) / statistics.median(measured[0][name]), 2),
        }
        for name in measured[0]
    }
    told["largest_ratio"] = max(one["ratio"] for one in told["ms"].values())
    print(json.dumps(told))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"COILBOOK_DATA": folder, "DJANGO_SETTINGS_MODULE": "shops.site.settings"}
        main(int(sys.argv[1]) if len(sys.argv) > 1 else LARGE)
