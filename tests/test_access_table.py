"""Who may ask for what: every routed address, tried by everybody, against one table.

The table is the policy, written from the roles' own description: own shop works, a sister shop reads, another
business finds nothing, whoever is not signed in is told to sign in, and only what is meant for customers is open.
An address that is routed but not in the table fails the test, and so does a row that leaves anybody out.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterator
from itertools import starmap
from typing import Any, NamedTuple

import pytest
from django.db import transaction
from django.urls import URLPattern, get_resolver
from rest_framework.test import APIClient

from setups.record import links, pdf
from setups.record.canonical import digest
from setups.web.record_views import OpeningThrottle
from shops.trail import Actor
from tests import factories
from tests.setups.record import conftest as invented_record

# The maker of a card that can be sealed, shared with the record's own tests.
make_ready_card = invented_record.make_ready_card

WHO = ("anonymous", "customer_link", "technician", "sister_technician", "manager", "owner", "stranger")
OUTSIDE = ("anonymous", "customer_link")  # who is signed in nowhere
MATCH = {"HTTP_IF_MATCH": '"1"'}
NO_ONE = 9_000_000


class Row(NamedTuple):
    """What each of WHO is answered, and the body and headers that are sent."""

    statuses: tuple[int, ...]
    body: Any = None
    headers: dict[str, str] | None = None


def open_to_all(code=200, body=None):
    return Row((code,) * len(WHO), body)


def link_holders(body):
    """Return the row of what a link's secret opens, whoever sends it; the others send one that opens nothing."""
    return Row((404, 200, *(404,) * 5), body)


def signed_in(*statuses, body=None, headers=None):
    """Return the row of what needs a sign-in; `statuses` are the technician's and all that follow in WHO."""
    return Row((*(401,) * len(OUTSIDE), *statuses), body, headers)


def staff(code=200, body=None, headers=None):
    """Return the row of what everybody who is signed in has for himself."""
    return signed_in(*(code,) * 5, body=body, headers=headers)


def readers(code=200, body=None):
    """Return the row of what the whole business reads."""
    return signed_in(*(code,) * 4, 404, body=body)


def shared(code=200, body=None, headers=None, *, foreign=404):
    """Return the row of what the whole business changes: its customers and bikes."""
    return signed_in(*(code,) * 4, foreign, body=body, headers=headers)


def own_shop(code=200, body=None, headers=None, *, foreign=404):
    """Return the row of what only the own shop, and the owner, changes."""
    return signed_in(code, 403, code, code, foreign, body=body, headers=headers)


def managers(code=200, body=None, headers=None, *, foreign=404):
    """Return the row of what is a manager's; a role without it is told so whoever the row belongs to."""
    return signed_in(403, 403, code, code, foreign, body=body, headers=headers)


def owners(code=200, body=None, headers=None, *, foreign=404):
    """Return the row of what only an owner does."""
    return signed_in(403, 403, 403, code, foreign, body=body, headers=headers)


def table(of: Rows) -> dict[str, Row]:
    """Return the policy. `of` holds the rows whose ids stand in the bodies."""
    card = "/api/cards/<int:pk>/"
    new_tool = {"shop": of.shop, "kind": "scale", "name": "Axle scale", "serial": "S-1"}
    new_spring = {
        "shop": of.shop,
        "end": "front",
        "code": "F9",
        "label": "Fork 5",
        "spring": {"kind": "straight", "rate_n_per_mm": 5},
    }
    new_person = {
        "shop": of.shop,
        "name": "Corin Ashdale",
        "email": "corin@springwell.example",
        "role": "technician",
        "password": "quince hammer eleven",
    }
    new_invitation = {"shop": of.shop, "email": "corin@springwell.example", "role": "technician"}
    new_name = {"name": "Corin Ashdale", "password": "quince hammer eleven"}
    length = {"stage": "received", "end": "rear", "quantity": "wheel_free_mm", "value": 640}
    return {
        "GET /": open_to_all(),
        "GET /record": open_to_all(),
        "GET /worker.js": open_to_all(),
        "GET /words/<str:name>.json": open_to_all(),
        "GET /pack/<slug:page>.<slug:digest>.<slug:kind>": open_to_all(),
        "GET /healthz": open_to_all(),
        "GET /api/session/": open_to_all(),
        # The test's clients skip the CSRF check; an empty body passes the door and is refused for what it is.
        "POST /api/session/": open_to_all(400, {}),
        "DELETE /api/session/": open_to_all(204),
        "PATCH /api/session/units/": staff(200, {"rate": "kgf/mm"}),
        "PATCH /api/session/language/": staff(200, {"language": "de"}),
        "POST /api/session/password/": staff(400, {}),
        "POST /api/session/full/": staff(400, {}),
        "PUT /api/session/pin/": staff(400, {}),
        "DELETE /api/session/pin/": staff(204),
        "GET /api/tablet/": open_to_all(),
        "POST /api/tablet/hands/": open_to_all(400, {}),
        "GET /api/tablets/": managers(foreign=200),
        "POST /api/tablets/": staff(201, {"name": "Bench 2"}),
        "POST /api/tablets/<int:pk>/revoke/": managers(),
        "POST /api/record/open/": link_holders({"secret": of.secret}),
        "POST /api/record/pdf/": link_holders({"secret": of.secret}),
        "POST /api/record/check/": open_to_all(200, {"number": "1", "head": of.head}),
        "POST /api/estimate/open/": link_holders({"secret": of.ask_secret}),
        "POST /api/estimate/answer/": link_holders({"secret": of.ask_secret, "answer": "declined"}),
        "GET /api/units/": staff(),
        "GET /api/business/": staff(),
        "PATCH /api/business/currency/": owners(200, {"currency": "CHF"}, foreign=200),
        "GET /api/schema/": staff(),
        "GET /api/calc/materials/": staff(),
        **{f"POST /api/calc/{name}/": staff(400, {}) for name in CALCULATIONS},
        "POST /api/follow/": staff(400, {}),
        "GET /api/shops/": staff(),
        "POST /api/shops/": owners(201, {"name": "Ford Yard", "code": "FY"}, foreign=201),
        "GET /api/shops/<int:pk>/": readers(),
        "PATCH /api/shops/<int:pk>/": managers(200, {"phone": "000 0909"}, MATCH),
        "GET /api/people/": staff(),
        # Named by another business's shop, which is unknown there.
        "POST /api/people/": managers(201, new_person, foreign=400),
        "GET /api/people/<int:pk>/": readers(),
        "PATCH /api/people/<int:pk>/": managers(200, {"name": "Petra L"}, MATCH),
        "POST /api/people/<int:pk>/recovery/": managers(201),
        "POST /api/people/<int:pk>/second-factor-off/": owners(),
        "GET /api/invitations/": managers(foreign=200),
        "POST /api/invitations/": managers(201, new_invitation, foreign=400),
        "POST /api/invitations/<int:pk>/revoke/": managers(),
        # A customer's secret opens a record and neither of these.
        "POST /api/invitations/open/": open_to_all(404, {"secret": of.secret}),
        "POST /api/invitations/accept/": open_to_all(404, {"secret": of.secret, **new_name}),
        "POST /api/recovery/": open_to_all(202, {"email": "nobody@springwell.example"}),
        "POST /api/recovery/use/": open_to_all(404, {"secret": of.secret, "password": "quince hammer eleven"}),
        "GET /api/session/second-factor/": staff(),
        "POST /api/session/second-factor/": staff(201),
        "DELETE /api/session/second-factor/": staff(400, {}),
        "POST /api/session/second-factor/on/": staff(400, {}),
        "POST /api/session/second-factor/codes/": staff(400, {}),
        "GET /api/tools/": staff(),
        "POST /api/tools/": own_shop(201, new_tool, foreign=400),
        "GET /api/tools/<int:pk>/": readers(),
        "PATCH /api/tools/<int:pk>/": own_shop(200, {"name": "Wrench"}, MATCH),
        "GET /api/springs/": staff(),
        "POST /api/springs/": managers(201, new_spring, foreign=400),
        "GET /api/springs/<int:pk>/": readers(),
        "PATCH /api/springs/<int:pk>/": managers(200, {"stock": 7}, MATCH),
        "DELETE /api/springs/<int:pk>/": managers(204, None, MATCH),
        "POST /api/springs/<int:pk>/test/": own_shop(
            200, {"deflection_mm": [10, 20, 30], "force_n": [46, 92, 138]}
        ),
        "GET /api/trail/": managers(foreign=200),
        "GET /api/customers/": staff(),
        "POST /api/customers/": staff(201, {"name": "Orla Venn"}),
        "GET /api/customers/<int:pk>/": readers(),
        "POST /api/customers/<int:pk>/erasure/": managers(200, {"why": "Asked for."}),
        "GET /api/erasures/": staff(),
        "POST /api/export/": signed_in(403, 403, 403, 200, 200),
        "PATCH /api/customers/<int:pk>/": shared(200, {"notes": "Rings late."}, MATCH),
        "POST /api/riders/": shared(201, {"customer": of.customer, "name": "Pim"}, foreign=400),
        # A list is a text file: past the door, JSON is refused for what it is.
        "GET /api/lists/<str:what>/": signed_in(403, 403, 200, 200, 200),
        "POST /api/lists/<str:what>/": signed_in(403, 403, 400, 400, 400, body={}),
        "POST /api/lists/<str:what>/look/": signed_in(403, 403, 415, 415, 415, body={}),
        "GET /api/riders/<int:pk>/": readers(),
        "PATCH /api/riders/<int:pk>/": shared(200, {"name": "Pim"}, MATCH),
        "GET /api/kinds/": staff(),
        "GET /api/kinds/<int:pk>/": readers(),
        "PATCH /api/kinds/<int:pk>/": managers(200, {"unsprung_kg": 15}, MATCH),
        "GET /api/bikes/": staff(),
        "POST /api/bikes/": shared(201, of.new_bike, foreign=400),
        "GET /api/bikes/<int:pk>/": readers(),
        "PATCH /api/bikes/<int:pk>/": shared(200, {"notes": "Link rear."}, MATCH),
        "GET /api/bikes/<int:pk>/history/": readers(),
        "POST /api/bikes/<int:pk>/owner/": shared(200, {"owner": None, "version": 1, "reason": "Sold."}),
        "POST /api/bikes/<int:pk>/merge/": shared(
            200, {"twin": of.twin, "version": 1, "twin_version": 1, "reason": "Entered twice."}
        ),
        "GET /api/bikes/<int:pk>/merges/": readers(),
        "POST /api/bikes/<int:pk>/merges/<int:lid>/undo/": shared(200),
        "GET /api/cards/": staff(),
        # A sister shop goes on with a card of its own.
        "POST /api/cards/": shared(201, {"bike": of.bike, "complaint": "Dives."}, foreign=400),
        f"GET {card}": readers(),
        f"PATCH {card}": own_shop(200, {"complaint": "Dives."}, MATCH),
        f"GET {card}sides/": readers(),
        f"GET {card}shelf/": readers(),
        f"POST {card}preview/": readers(200, {}),
        f"POST {card}choose/": readers(200, {"end": "rear"}),
        f"POST {card}suits/": readers(200, {"end": "rear"}),
        f"POST {card}window/": readers(200, {"end": "rear"}),
        f"POST {card}cases/": readers(200, {"end": "rear"}),
        f"POST {card}ride/": readers(200, {"end": "rear"}),
        f"POST {card}attitude/": readers(200, {}),
        f"GET {card}sure/": readers(),
        f"GET {card}draft/": readers(),
        # Past the door, and refused: this card lacks the loads that a ladder rests on.
        f"GET {card}ladder/<str:end>.pdf": readers(400),
        "GET /api/audit/pdfs/": managers(foreign=200),
        # Past the door, and refused since no card is sealed yet.
        "POST /api/audit/pdfs/": managers(400, {}, foreign=400),
        "GET /api/audit/<str:about>/": managers(foreign=200),
        "POST /api/audit/<str:about>/file/": managers(200, {}, foreign=200),
        "GET /api/audit/chain/": managers(foreign=200),
        f"GET {card}learned/": readers(),
        # No card of this model is sealed yet: past the door, and refused for that.
        f"POST {card}corrections/": own_shop(400, {"end": "rear", "cards": 3}),
        f"POST {card}corrections/withdraw/": own_shop(200, {"end": "rear"}),
        f"POST {card}loads/": readers(200, {"stage": "received", "end": "rear"}),
        f"POST {card}loads/take/": own_shop(400, {"stage": "received", "end": "rear", "way": "sags"}),
        f"POST {card}readings/": own_shop(200, {"readings": [length]}),
        f"POST {card}readings/<int:rid>/strike/": own_shop(200, {}),
        f"PUT {card}settings/<str:stage>/<str:end>/": own_shop(
            200, {"spring": None}, {"HTTP_IF_NONE_MATCH": "*"}
        ),
        f"POST {card}fit/": own_shop(200, {"end": "front", "stock_spring": of.spring, "preload_mm": 5}),
        f"POST {card}as-built/": own_shop(200, {"end": "front"}),
        f"POST {card}torques/": own_shop(200, {"fastener": "Top yoke"}),
        f"PATCH {card}torques/<int:tid>/": own_shop(200, {"source_page": "4"}, MATCH),
        f"DELETE {card}torques/<int:tid>/": own_shop(200, {"reason": "No such bolt."}, MATCH),
        # Blank yet, and tightened by nobody: past the door, and refused for that.
        f"POST {card}torques/<int:tid>/tighten/": own_shop(400, {}),
        f"POST {card}torques/<int:tid>/check/": own_shop(400, {}),
        f"POST {card}parts/": own_shop(200, {"direction": "fitted", "description": "Seals"}),
        f"PATCH {card}parts/<int:lid>/": own_shop(200, {"description": "Seals"}, MATCH),
        f"DELETE {card}parts/<int:lid>/": own_shop(200, None, MATCH),
        f"POST {card}cautions/<slug:key>/read/": own_shop(200, {}),
        f"POST {card}sign-offs/": own_shop(200, {"part": "work"}),
        # Without a picture in it: past the door, and refused for that.
        f"POST {card}photos/": own_shop(400, {}),
        f"GET {card}photos/<int:lid>/": readers(),
        f"POST {card}photos/<int:lid>/removal/": own_shop(200, {"reason": "Blurred."}),
        # The card is still in work: past the door, and refused for that.
        f"POST {card}photos/<int:lid>/erasure/": managers(409, {"reason": "Shows a face."}),
        f"PUT {card}estimate/": own_shop(
            200, {"needs_approval": True, "lines": []}, {"HTTP_IF_MATCH": '"1"'}
        ),
        f"POST {card}estimate/asks/": own_shop(201, {}),
        f"POST {card}estimate/asks/<int:lid>/revoke/": own_shop(200, {}),
        f"POST {card}overrides/": managers(
            409, {"code": "torque_blank", "about": "", "reason": "No manual at hand."}
        ),
        f"GET {card}record/": readers(),
        f"GET {card}record.pdf": readers(),
        f"POST {card}seal/": own_shop(409, {}),
        f"POST {card}amendments/": own_shop(200, {"path": "complaint", "new": "Dives.", "why": "Misheard."}),
        f"POST {card}erasure/": managers(200, {"why": "Asked for."}),
        f"POST {card}links/": own_shop(201, {}),
        f"POST {card}links/<int:lid>/revoke/": own_shop(200, {}),
    }


CALCULATIONS = (
    "evaluate", "needed", "choose", "coil", "gap", "sag", "tester", "leverage", "chassis", "contact",
    "picture", "suits", "cases", "window", "loads", "uncertainty", "wire",
)  # fmt: skip
SEALED = ("record/", "record.pdf", "seal/", "amendments/", "erasure/", "links/", "revoke/")


class Rows:
    """One row of everything in a shop, and the parts of addresses that name them.

    `sealed` is a sealed card, None where the address asked for is not about a record: then the customer's link
    is one to a card that is still in work. `colleague` is somebody of the shop whom the others may look up.
    """

    head, sealed = "", 0

    def __init__(self, shop, technician, colleague, sealed) -> None:
        customer = factories.CustomerFactory(business=shop.business)
        bike = factories.BikeFactory(business=shop.business, owner=customer)
        card = factories.JobCardFactory(shop=shop, bike=bike, customer=customer, opened_by=technician)
        spring = factories.StockSpringFactory(shop=shop)
        factories.SettingFactory(
            card=card, stage="chosen", end="front", body={"legs": [{"spring": None}], "sources": {}}
        )
        if sealed is None:
            self.secret = secrets.token_urlsafe(32)
            self.link = factories.CustomerLinkFactory(card=card, secret_sha256=digest(self.secret)).pk
        else:
            link, self.secret = links.share(Actor(technician), sealed, days=30, share_mass=False)
            self.head, self.link, self.sealed = sealed.records.get().head, link.pk, sealed.pk
        self.shop, self.customer, self.bike, self.spring = shop.pk, customer.pk, bike.pk, spring.pk
        self.new_bike = {"owner": customer.pk, "make": "Brackwater", "model": "Heron", "kind": "enduro"}
        self.tid = factories.TorqueLineFactory(card=card).pk
        self.part, self.rid = factories.PartLineFactory(card=card).pk, factories.ReadingFactory(card=card).pk
        self.card = card.pk
        self.twin = factories.BikeFactory(business=shop.business, owner=customer).pk
        self.ask_secret = secrets.token_urlsafe(32)
        factories.EstimateFactory(card=card)
        self.ask = factories.EstimateAskFactory(card=card, secret_sha256=digest(self.ask_secret)).pk
        self.photo = factories.PhotoFactory(card=card).pk
        self.merge = factories.BikeMergeFactory(kept=bike, by=technician).pk
        self.pk = {
            "shops": shop.pk,
            "people": colleague.pk,
            "invitations": factories.InvitationFactory(shop=shop, made_by=technician).pk,
            "tablets": factories.TabletFactory(shop=shop, enrolled_by=technician).pk,
            "tools": factories.ToolFactory(shop=shop).pk,
            "springs": spring.pk,
            "customers": customer.pk,
            "riders": factories.RiderFactory(customer=customer).pk,
            "kinds": shop.business.kinds.first().pk,
            "bikes": bike.pk,
        }

    def address(self, template: str, **missing: int) -> str:
        """Return the address with these rows' ids in it, or those of `missing`."""
        kind = template.split("/")[2] if template.startswith("/api/") else ""
        sealed = kind == "cards" and about_a_record(template)
        named = {
            "pk": self.sealed if sealed else self.card if kind == "cards" else self.pk.get(kind),
            "tid": self.tid,
            "rid": self.rid,
            "lid": self._line(template, kind),
            "stage": "built",
            "end": "rear",
            "key": "first_ride",
            "about": "late",
            "what": "springs",
            "name": "de",
            "page": "index",
            "digest": "0123456789abcdef",
            "kind": "js",
            **missing,
        }
        return re.sub(r"<\w+:(\w+)>", lambda found: str(named[found[1]]), template)


    def _line(self, template: str, kind: str) -> int:
        if kind == "bikes":
            return self.merge
        if "/estimate/" in template:
            return self.ask
        if "/photos/" in template:
            return self.photo
        return self.link if about_a_record(template) else self.part


def about_a_record(template: str) -> bool:
    """Return whether the address is about a sealed card."""
    if "/estimate/" in template or "/photos/" in template:
        return False
    return template.endswith(SEALED) or "/record/" in template


def routed() -> set[str]:
    """Return every method and address template that leads somewhere."""
    return set(starmap("{} /{}".format, _routes(get_resolver().url_patterns, "")))


def _routes(patterns: Any, before: str) -> Iterator[tuple[str, str]]:
    for one in patterns:
        here = before + str(one.pattern)
        if not isinstance(one, URLPattern):
            yield from _routes(one.url_patterns, here)
            continue
        view = getattr(one.callback, "cls", None)
        verbs = getattr(one.callback, "actions", None) or [
            name for name in ("get", "post", "put", "patch", "delete") if view is None or hasattr(view, name)
        ]
        for verb in ["get"] if view is None else verbs:
            if verb != "head":
                yield verb.upper(), here


class _Blank:
    """Stands for the rows where only the addresses are asked for."""

    def __getattr__(self, name: str) -> None:
        return None


ADDRESSES = sorted(table(_Blank()))


def faults(rows: dict[str, Row], addresses: set[str]) -> list[str]:
    """Return what is wrong with a table: addresses without a row, rows without an address, people left out."""
    return [
        *(f"{address} has no row" for address in sorted(addresses - set(rows))),
        *(f"{name} leads nowhere" for name in sorted(set(rows) - addresses)),
        *(f"{name} leaves somebody out" for name, row in sorted(rows.items()) if len(row.statuses) != len(WHO)),
    ]


def test_every_routed_address_says_what_everybody_is_answered():
    """One that is missing here is one whose access nobody has thought about."""
    assert faults(table(_Blank()), routed()) == []
    assert set(WHO) == {
        "anonymous", "customer_link", "technician", "sister_technician", "manager", "owner", "stranger",
    }  # fmt: skip


def test_a_missing_row_a_row_too_many_and_a_person_left_out_are_each_found():
    rows = table(_Blank())
    short = rows["GET /api/tools/"]._replace(statuses=rows["GET /api/tools/"].statuses[:-1])
    lacking = {name: row for name, row in rows.items() if name != "GET /api/trail/"}
    told = faults({**lacking, "GET /api/tools/": short, "GET /api/nowhere/": short}, routed())
    assert told == [
        "GET /api/trail/ has no row", "GET /api/nowhere/ leads nowhere",
        "GET /api/nowhere/ leaves somebody out", "GET /api/tools/ leaves somebody out",
    ]  # fmt: skip


def test_the_walk_finds_what_is_known_to_be_there():
    assert {"GET /", "PATCH /api/session/units/", "DELETE /api/springs/<int:pk>/"} <= routed()
    assert "POST /api/cards/<int:pk>/readings/<int:rid>/strike/" in routed()


class Stage:
    """The people and the rows that every test here asks about, made once: whatever asking changes is taken back."""

    def __init__(self) -> None:
        self.shop = factories.ShopFactory(business=factories.BusinessFactory(name="Springwell"))
        sister_shop = factories.ShopFactory(business=self.shop.business)
        elsewhere = factories.ShopFactory(business=factories.BusinessFactory(name="Rowan Bench"))
        self.technician, self.second_technician = factories.PersonFactory.create_batch(2, shop=self.shop)
        self.stranger = factories.PersonFactory(shop=elsewhere, role="owner")
        self.people = {
            "technician": self.technician,
            "sister_technician": factories.PersonFactory(shop=sister_shop),
            "manager": factories.PersonFactory(shop=self.shop, role="manager"),
            "owner": factories.PersonFactory(shop=self.shop, role="owner"),
            "stranger": self.stranger,
        }
        self.sessions = {who: self._session_of(person) for who, person in self.people.items()}
        self.rows = Rows(self.shop, self.technician, self.second_technician, None)
        self.foreign_rows = Rows(elsewhere, self.stranger, self.stranger, None)
        self.foreign_rows.sealed = self.foreign_rows.card

    @staticmethod
    def _session_of(person) -> str:
        client = APIClient()
        client.force_login(person)
        return client.cookies["sessionid"].value


@pytest.fixture(scope="module")
def stage(kept):
    return Stage()


@pytest.fixture
def shop(stage, db):
    return stage.shop


@pytest.fixture
def technician(stage, db):
    return stage.technician


@pytest.fixture
def second_technician(stage, db):
    return stage.second_technician


@pytest.fixture
def rows_of(request, stage, make_ready_card, monkeypatch):
    """Return one row of everything, a sealed card only for addresses about one: sealing takes its time.

    So does laying a PDF out, which is tested elsewhere.
    """
    monkeypatch.setattr(pdf, "pdf_of", lambda *args: b"%PDF-")
    monkeypatch.setattr(OpeningThrottle, "rate", "1000/min")
    asked = request.node.callspec.params["name"] if hasattr(request.node, "callspec") else "/record/"
    if not about_a_record(asked):
        return stage.rows
    card = make_ready_card()
    invented_record.seal.seal(Actor(stage.technician), card)
    return Rows(stage.shop, stage.technician, stage.second_technician, card)


@pytest.fixture
def foreign_rows(stage):
    """Return one row of everything in another business."""
    return stage.foreign_rows


@pytest.fixture
def everybody(stage, rows_of, settings):
    """Return a client for each of WHO; the link's holder shows its secret wherever a browser could."""
    settings.IDLE_S = settings.SESSION_COOKIE_AGE  # they signed in when the first test began
    visitor = APIClient(HTTP_AUTHORIZATION=f"Bearer {rows_of.secret}")
    clients = {"anonymous": APIClient(), "customer_link": visitor} | {who: APIClient() for who in stage.sessions}
    for who, session in {"customer_link": rows_of.secret, **stage.sessions}.items():
        clients[who].cookies["sessionid"] = session
    return clients


def ask(client, verb, address, row):
    """Ask, and take back whatever that changed."""
    with transaction.atomic():
        answer = getattr(client, verb.lower())(address, row.body, format="json", **(row.headers or {}))
        transaction.set_rollback(True)
    return answer


def as_sent_by(who, row):
    """Return the row with the body that `who` can send: only the link's holder knows its secret."""
    if who != "customer_link" and isinstance(row.body, dict) and "secret" in row.body:
        return row._replace(body={**row.body, "secret": "A" * len(row.body["secret"])})
    return row


@pytest.mark.parametrize("name", ADDRESSES)
def test_everybody_is_answered_as_the_table_says(name, rows_of, everybody):
    verb, template = name.split(" ")
    row = table(rows_of)[name]
    if verb == "GET":
        row = row._replace(body=None)
    found = {
        who: ask(client, verb, rows_of.address(template), as_sent_by(who, row)) for who, client in everybody.items()
    }
    told = {who: answer.status_code for who, answer in found.items()}
    wanted = dict(zip(WHO, row.statuses, strict=True))
    assert told == wanted, {who: found[who].content[:300] for who in WHO if told[who] != wanted[who]}


@pytest.mark.parametrize("name", [name for name in ADDRESSES if "<int:pk>" in name])
def test_a_foreign_row_and_a_missing_one_answer_alike(name, rows_of, foreign_rows, everybody):
    """For everybody, byte for byte: the row of another business, and an id that no row has."""
    verb, template = name.split(" ")
    row = table(rows_of)[name]
    for who, client in everybody.items():
        foreign = ask(client, verb, (rows_of if who == "stranger" else foreign_rows).address(template), row)
        missing = ask(client, verb, rows_of.address(template, pk=NO_ONE), row)
        assert foreign.status_code == missing.status_code, who
        assert foreign.status_code in {401, 403, 404}, who
        assert foreign.content == missing.content, who
    assert ask(everybody["owner"], verb, foreign_rows.address(template), row).status_code == 404


# What a body may name, and the attribute of `Rows` that is such a row.
IDS = {"shop": "shop", "customer": "customer", "owner": "customer", "bike": "bike", "twin": "twin",
       "stock_spring": "spring"}  # fmt: skip


NAMED = [
    (name, key) for name, row in sorted(table(_Blank()).items()) for key in IDS
    if isinstance(row.body, dict) and key in row.body
]  # fmt: skip


@pytest.mark.parametrize(("name", "key"), NAMED)
def test_a_foreign_id_in_a_body_and_a_missing_one_answer_alike(name, key, rows_of, foreign_rows, everybody):
    verb, template = name.split(" ")
    row, theirs = table(rows_of)[name], getattr(foreign_rows, IDS[key])
    answers = []
    for pk in (theirs, NO_ONE):
        sent = row._replace(body={**row.body, key: pk})
        answer = ask(everybody["owner"], verb, rows_of.address(template), sent)
        answers.append((answer.status_code, answer.content.replace(str(pk).encode(), b"ID")))
    assert answers[0] == answers[1]
    assert answers[0][0] in {400, 404}


def test_the_ids_in_bodies_are_found():
    assert {("POST /api/tools/", "shop"), ("POST /api/riders/", "customer"), ("POST /api/cards/", "bike")} <= set(NAMED)


@pytest.mark.parametrize("name", [name for name in ADDRESSES if re.search("<int:[rtl]id>", name)])
def test_a_part_of_another_card_is_not_found_through_this_one(name, rows_of, everybody, shop, make_ready_card):
    verb, template = name.split(" ")
    row = table(rows_of)[name]
    other = (
        factories.BikeFactory(business=shop.business)
        if template.startswith("/api/bikes/")
        else factories.JobCardFactory(shop=shop)
    )
    through_another = rows_of.address(template, pk=other.pk)
    through_none = rows_of.address(template, tid=NO_ONE, rid=NO_ONE, lid=NO_ONE)
    answers = [ask(everybody["owner"], verb, address, row) for address in (through_another, through_none)]
    assert [answer.status_code for answer in answers] == [404, 404]
    assert answers[0].content == answers[1].content


def test_a_customers_link_reaches_its_own_record_and_nothing_else(rows_of, anonymous, technician, make_ready_card):
    other = make_ready_card(complaint="Weaves at speed.")
    invented_record.seal.seal(Actor(technician), other)
    page = anonymous.post("/api/record/open/", {"secret": rows_of.secret}).json()["html"]
    assert "Weaves at speed." not in page
    for secret in (rows_of.secret[:-1], rows_of.secret + "A", "", rows_of.secret.swapcase()):
        assert anonymous.post("/api/record/open/", {"secret": secret}).status_code in {400, 404}
    for address in (f"/api/cards/{rows_of.sealed}/", f"/api/cards/{rows_of.sealed}/record/"):
        for header in ("HTTP_AUTHORIZATION", "HTTP_COOKIE"):
            assert anonymous.get(address, **{header: rows_of.secret}).status_code == 401
