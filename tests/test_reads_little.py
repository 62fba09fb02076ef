"""Lists and searches read as many rows as they need, however many there are: told by the databases' own plans.

What a plan's lines mean is said in the manuals of SQLite ("EXPLAIN QUERY PLAN") and PostgreSQL ("Using EXPLAIN").
"""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from setups import search
from setups.audit.lists import LISTS
from setups.demo import many
from setups.models import Customer, JobCard, TorqueLine
from shops.access import everywhere
from shops.calibration import CYCLES

WHY = "this test"
CARDS = 1200
BIG = ("jobcard", "bike", "customer", "searchword", "reading", "torqueline", "sealedrecord", "builtsag", "auditentry")
"""Tables that grow with every card."""
SCANNED = ("uncalibrated",)
"""What SQLite looks for in all rows: Django names a place in JSON by a parameter, for which SQLite has no index."""


@pytest.fixture
def card(shop, technician, monkeypatch):
    """Make many cards, and return one in the midst of them."""
    monkeypatch.setattr(many, "LEFT_OPEN", 20)
    many.enlarge(shop, technician, CARDS, say=lambda text: None)
    return everywhere(JobCard, why=WHY).filter(shop=shop).order_by("id")[CARDS // 2]


def queries(client, address, **query):
    """Return the queries that look rows up for an address."""
    with CaptureQueriesContext(connection) as caught:
        answer = client.get(f"/api/{address}/", query)
    assert answer.status_code == 200, answer.content
    asked = [one["sql"] for one in caught if one["sql"].lstrip("(").startswith("SELECT")]
    return answer.json(), [sql for sql in asked if any(f"_{table}" in sql for table in BIG)]


def plan(sql):
    """Return how the database would find what is asked, a line a step."""
    verb = "EXPLAIN QUERY PLAN" if connection.vendor == "sqlite" else "EXPLAIN (ANALYZE)"
    with connection.cursor() as cursor:
        cursor.execute(f"{verb} {sql}".replace("%", "%%"), ())
        return [str(row[-1]) for row in cursor.fetchall()]


def rows_met(steps):
    """Return how many rows PostgreSQL met in each step of a plan that it carried out."""
    return [int(rows) for step in steps for rows in re.findall(r"(?:Removed by Filter: |time=\S+ rows=)(\d+)", step)]


def searches(card):
    """Return what is typed to find one card among all."""
    bike, customer = card.bike, card.customer
    return {
        "plate": bike.plate, "end of the frame number": bike.frame_number[-8:], "name": customer.name,
        "number": card.number, "its digits": card.number.rpartition("-")[2],
        "telephone": customer.phone.replace(" ", ""),
    }  # fmt: skip


@pytest.mark.only_on("sqlite")
def test_no_address_reads_a_whole_table(card, manager_client):
    year = {"since": date.today() - timedelta(days=365), "until": date.today() - timedelta(days=30)}
    last = f"after-{card.pk}"
    asked = [
        ("cards", {}), ("cards", {"step": "received"}), ("cards", {"page": last}), ("bikes", {}), ("customers", {}),
        ("trail", {}), (f"bikes/{card.bike_id}/history", {}),
        *(("cards", {"search": typed}) for typed in searches(card).values()),
        *(("bikes", {"search": typed}) for typed in (card.bike.plate, card.customer.name)),
        *((f"audit/{about}", query) for about in LISTS if about not in SCANNED for query in ({}, year)),
        ("audit/recalled", {"batch": "OIL-00003"}),
    ]  # fmt: skip
    whole = re.compile(f"^SCAN (setups|shops)_({'|'.join(BIG)})(?! USING)")
    read = [
        (address, query, step, sql)
        for address, query in asked
        for sql in queries(manager_client, address, **query)[1]
        for step in plan(sql)
        if whole.match(step)
    ]
    assert not read


@pytest.mark.only_on("postgresql")
def test_a_search_for_one_card_meets_few_rows(card, manager_client):
    for what, typed in searches(card).items():
        found, asked = queries(manager_client, "cards", search=typed)
        assert card.pk in [row["id"] for row in found["results"]], what
        for sql in asked:
            steps = plan(sql)
            # As many as there are bikes or customers may be met, a table so small, but not as many as there are cards.
            assert max(rows_met(steps)) < CARDS // 2, (what, steps)


@pytest.mark.only_on("postgresql")
def test_a_common_word_is_asked_of_the_rows_met_and_its_rows_are_never_gathered(card, manager_client, monkeypatch):
    monkeypatch.setattr(search, "FEW", 20)
    monkeypatch.setattr(search, "SHOWING", (15,))
    monkeypatch.setattr(search, "MOST_FOUND", 40)
    found, asked = queries(manager_client, "cards", search=card.bike.make)
    assert len(found["results"]) == 50
    steps = [step for sql in asked for step in plan(sql)]
    assert any("SubPlan" in step for step in steps)
    assert not [step for step in steps if "hashed SubPlan" in step]


def test_a_word_that_many_have_is_counted_no_further_than_lists_are(card, manager_client):
    everybody = everywhere(Customer, why=WHY).count()
    assert everybody < search.MOST_FOUND
    found = manager_client.get("/api/customers/", {"search": "555"}).json()
    assert (found["count"], found["more_than_count"]) == (everybody, False)
    assert manager_client.get("/api/cards/", {"search": "555"}).json()["more_than_count"] is True


@pytest.mark.only_on("postgresql")
def test_torques_by_a_worn_wrench_are_found_by_their_index(card):
    worn = everywhere(TorqueLine, why=WHY).filter(calibration__cycles__gt=CYCLES).order_by()
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
    assert "torque_by_cycles" in worn.explain()


@pytest.mark.only_on("postgresql")
def test_an_audit_of_sags_adds_up_no_rows_of_whole_months(card, manager_client):
    since = date(date.today().year - 5, 1, 20)
    found, asked = queries(manager_client, "audit/sags", since=since, until=date(since.year + 2, 12, 10))
    assert found["results"]
    about = [sql for sql in asked if "SUM(" in sql and 'FROM "setups_builtsag"' in sql]
    assert len(about) == 2
    a_month = 2 * CARDS / many.YEARS / 12
    assert max(max(rows_met(plan(days))) for days in about) < 2 * a_month
