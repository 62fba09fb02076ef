"""A card of invented data that is ready to be sealed, and the same one sealed.

Sealing takes its time: a file whose tests begin with a sealed record seals one, in a shop of its own (`frozen`), and
each of those tests finds it anew, with its shop and people. The others have a shop to themselves.
"""

from __future__ import annotations

import pytest
from django.utils import timezone

from setups import cautions
from setups.models import CautionRead, PartLine, Reading, Setting, SignOff, TorqueLine
from setups.record import seal
from shops.access import Scoped, everywhere
from shops.trail import Actor
from tests import factories
from tests.setups.record import invented


@pytest.fixture(scope="module")
def frozen(kept):
    """Return by their names the rows that a test with a sealed record begins with; each reads them itself."""
    shop = factories.ShopFactory(business=factories.BusinessFactory(name="Springwell"), name="Harbour Yard", code="HY")
    people = [factories.PersonFactory(shop=shop, name=name) for name in ("Ansel Thorpe", "Petra Lindqvar")]
    card = ready_card_maker(shop, *people)()
    record = seal.seal(Actor(people[0], "127.0.0.1"), card)
    rows = {"business": shop.business, "shop": shop, "ready_card": card, "sealed": record}
    return rows | dict(zip(("technician", "second_technician"), people, strict=True))


def row(request):
    """Return the row of the fixture that asks: of `frozen`, or where no sealed record is asked for, one of its own."""
    if "sealed" not in request.fixturenames:
        return request.getfixturevalue(request.fixturename)
    found = request.getfixturevalue("frozen")[request.fixturename]
    kind = type(found)
    every = everywhere(kind, why="a test begins with it") if issubclass(kind, Scoped) else kind.objects
    return every.get(pk=found.pk)


@pytest.fixture
def business(request, db):
    return row(request)


@pytest.fixture
def shop(request, db):
    return row(request)


@pytest.fixture
def technician(request, db):
    return row(request)


@pytest.fixture
def second_technician(request, db):
    return row(request)


@pytest.fixture
def actor(technician):
    return Actor(technician, "127.0.0.1")


@pytest.fixture
def make_ready_card(shop, technician, second_technician):
    """Return the maker of cards that nothing blocks from being sealed."""
    return ready_card_maker(shop, technician, second_technician)


def ready_card_maker(shop, technician, second_technician):
    """Return the maker of such cards of a shop, worked on by two of its people."""

    def make(**values):
        customer = factories.CustomerFactory(business=shop.business, name=invented.OWNER)
        bike = factories.BikeFactory(
            business=shop.business,
            owner=customer,
            make="Veldt",
            model="Kestrel 450 R",
            year=2029,
            plate=invented.PLATE,
            frame_number=invented.FRAME,
            front=invented.FRONT,
            rear=invented.REAR,
            sources=invented.card()["bike"]["sources"],
        )
        rider = factories.RiderFactory(customer=customer, name=invented.OWNER, mass_in_kit_kg=invented.MASS_KG)
        told = invented.card()
        kept = (
            "complaint",
            "explanation",
            "internal_notes",
            "distance_km",
            "hours",
            "next_service_on",
            "next_service_note",
        )
        targets = {end: told["targets"][end] for end in ("front", "rear")}
        fields = {key: told[key] for key in kept} | {"targets": targets, "step": "handed_over"} | values
        card = factories.JobCardFactory(
            shop=shop, bike=bike, customer=customer, rider=rider, opened_by=technician, **fields
        )
        for stage, ends in invented.SETTINGS.items():
            for end, body in ends.items():
                Setting.objects.create(card=card, stage=stage, end=end, body=body)
        for one in told["readings"]:
            keys = ("stage", "end", "quantity", "value", "instrument", "origin")
            Reading.objects.create(card=card, taken_by=technician, **{key: one[key] for key in keys})
        wrench = factories.ToolFactory(shop=shop, name="Click wrench 5 to 60 N·m")
        for line in told["torques"]:
            keys = ("fastener", "value_nm", "source_edition", "source_page", "needs_second_check")
            TorqueLine.objects.create(
                card=card,
                wrench=wrench,
                tightened_by=technician,
                tightened_at=timezone.now(),
                checked_by=second_technician if line["needs_second_check"] else None,
                checked_at=timezone.now() if line["needs_second_check"] else None,
                **{key: line[key] for key in keys},
            )
        for part in told["parts"]:
            keys = ("direction", "description", "quantity", "batch")
            PartLine.objects.create(card=card, **{key: part[key] for key in keys})
        for one in cautions.applying(card):
            CautionRead.objects.create(card=card, key=one.key, read_by=technician)
        for part in SignOff.Part.values:
            SignOff.objects.create(card=card, part=part, statement="Done as written here.", by=technician)
        return card

    return make


@pytest.fixture
def ready_card(request, make_ready_card):
    return row(request) if "sealed" in request.fixturenames else make_ready_card()


@pytest.fixture
def sealed(request, frozen, ready_card):
    """Return the sealed record of `ready_card`; the card hangs on it."""
    record = row(request)
    record.card = ready_card
    return record
