"""The whole described API, called with what its schema allows and with what it does not, as two of its roles.

Every operation of the OpenAPI description, 5,000 cases and more, through WSGI as the server runs it. Nothing may
answer 5xx, and nothing may answer otherwise than the description says: status, type and shape of the body. Making a
case up takes longer than answering it, so each is asked by both roles. The cases are the same in every run, but
others on each database; each is taken back, so that the rows of the addresses stay, and before that the database is
asked whether it would have kept what was written. In pieces, so that several processes share the work.
"""

from __future__ import annotations

import json
import logging
import random
from collections import Counter
from http import HTTPStatus

import pytest
import schemathesis
from django.core.cache import cache
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, connection, transaction
from django.test import Client
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from setups.ahead import wall
from setups.record import links, pdf
from setups.record import seal as sealing
from shops.site.wsgi import application
from shops.trail import Actor
from tests import factories
from tests.setups.record import conftest as invented_record

make_ready_card = invented_record.make_ready_card
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
ALLOWED, FOREIGN = 22, 8
"""Cases of each operation by what its schema allows, and by what it does not; each is asked by every role."""
SEEDS = {"sqlite": 1, "postgresql": 2}
CALCULATIONS = "/api/calc/"
OF_CALCULATIONS = 0.5
"""How much of that a stateless calculation gets: its bodies are large, and no role changes its answer."""
ROLES = ("technician", "manager")
ASKED = 5000
"""At least so many cases are asked in all."""
PIECES = 6
TOKEN = "f" * 32
COLLECTIONS = {"cards", "bikes", "riders", "customers", "kinds", "shops", "people", "tools", "springs"}


def described():
    schema = schemathesis.openapi.from_dict(SchemaGenerator().get_schema(request=None, public=True))
    schema.app = application
    found = [found.ok() for found in schema.get_all_operations()]
    # A stateless calculation asks the database who asks, and nothing else: one database is enough for it.
    return [one for one in found if connection.vendor == "sqlite" or not one.path.startswith(CALCULATIONS)]


OPERATIONS = described()


@pytest.fixture
def known(shop, technician, second_technician, make_ready_card, monkeypatch):
    """Return real ids by the part of the address before them, of open and of sealed rows; PDFs are blank."""
    monkeypatch.setattr(pdf, "pdf_of", lambda *args: b"%PDF-")
    monkeypatch.setattr(wall, "wall_pdf", lambda *args: b"%PDF-" if wall.wall_html(*args) else b"")
    sealed, card = make_ready_card(), factories.JobCardFactory(shop=shop, opened_by=technician)
    sealing.seal(Actor(technician), sealed)
    link, _ = links.share(Actor(technician), sealed, days=30, share_mass=False)
    factories.SettingFactory(card=card)
    return {
        "cards": [card.pk, card.pk, sealed.pk],
        "bikes": [card.bike_id],
        "riders": [card.rider_id],
        "customers": [card.customer_id],
        "kinds": [shop.business.kinds.first().pk],
        "shops": [shop.pk],
        "people": [second_technician.pk],
        "tools": [factories.ToolFactory(shop=shop).pk],
        "springs": [factories.StockSpringFactory(shop=shop).pk],
        "readings": [factories.ReadingFactory(card=card).pk],
        "torques": [factories.TorqueLineFactory(card=card).pk],
        "parts": [factories.PartLineFactory(card=card).pk],
        "links": [link.pk],
        "cautions": ["first_ride"],
        # By the parameter's own name, where no collection comes before it.
        "stage": ["received", "chosen", "built"],
        "end": ["front", "rear"],
    }


def aim(case, known, draw):
    """Put real ids into the address of most cases, and the version of a fresh row into the header."""
    before = ""
    for part in case.path.split("/"):
        name = part.strip("{}")
        real = known.get(name) or known.get(before)
        if part.startswith("{") and real and draw.random() < 0.8:
            case.path_parameters[name] = draw.choice(real)
        before = part
    if case.method in ("PATCH", "PUT", "DELETE") and draw.random() < 0.8:
        case.headers["If-Match"] = '"1"'


@pytest.fixture
def one_connection():
    """Keep the test's transaction open between requests, as Django's own test client does."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    logging.disable(logging.ERROR)  # thousands of refusals, each with a line
    yield
    logging.disable(logging.NOTSET)
    for signal in signals:
        signal.connect(close_old_connections)


def cookies_of(person):
    client = Client()
    client.force_login(person)
    return {"sessionid": client.cookies["sessionid"].value, "csrftoken": TOKEN}


def tried(operation, mode, many, ask):
    """Ask `many` generated cases of one kind; a schema that forbids nothing has none of the second kind."""

    @seed(SEEDS[connection.vendor])
    @settings(
        max_examples=many,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def each(case):
        ask(case)

    try:
        each()
    except Unsatisfiable:
        assert mode is GenerationMode.NEGATIVE, operation.label


@pytest.mark.django_db
@pytest.mark.usefixtures("one_connection")
@pytest.mark.parametrize("piece", range(PIECES))
def test_nothing_fails_and_nothing_answers_otherwise_than_described(request, piece, known):
    cookies = {role: cookies_of(request.getfixturevalue(role)) for role in ROLES}
    answered, wrong = Counter(), {}
    for operation in OPERATIONS[piece::PIECES]:
        draw = random.Random(operation.label)  # noqa: S311  # repeatable on purpose

        def ask(case, operation=operation, draw=draw):
            aim(case, known, draw)
            for role in ROLES:
                cache.clear()  # no address is slowed down here
                with transaction.atomic():
                    response = case.call(cookies=dict(cookies[role]), headers={"X-CSRFToken": TOKEN})
                    if case.method != "GET":
                        connection.check_constraints()  # what is deferred would else be asked at a commit that never is
                    transaction.set_rollback(True)
                answered[HTTPStatus(response.status_code)] += 1
                try:
                    case.validate_response(response, checks=CHECKS)
                except (BaseExceptionGroup, AssertionError) as error:
                    body = json.dumps(case.body, default=repr)[:300] if case.body else ""
                    told = f"{role} {case.formatted_path} {body}\n{error}"
                    wrong.setdefault(operation.label, told[:1500])

        share = OF_CALCULATIONS if operation.path.startswith(CALCULATIONS) else 1
        tried(operation, GenerationMode.POSITIVE, int(ALLOWED * share), ask)
        tried(operation, GenerationMode.NEGATIVE, int(FOREIGN * share), ask)
    assert not wrong, "\n\n".join(f"{label}: {text}" for label, text in wrong.items())
    assert sum(answered.values()) >= ASKED / PIECES, answered
    # Not all of it is refused: rows are read and changed, too.
    assert answered[HTTPStatus.OK] > 600 / PIECES, answered


def test_every_room_is_described():
    rooms = {one.path.split("/")[2] for one in OPERATIONS}
    assert rooms > COLLECTIONS
    assert len(OPERATIONS) > 100
