"""`manage.py found` sets up a business of one's own, and never beside the demo."""

from __future__ import annotations

import io
import sys

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from setups.demo.people import BUSINESS
from shops.access import everywhere
from shops.models import Business, Person
from tests.factories import BusinessFactory

pytestmark = pytest.mark.django_db
ASKED = {
    "business": "Springwell", "shop": "Harbour Yard", "code": "HY", "owner": "Wren Halloran",
    "email": "Wren@springwell.example",
}  # fmt: skip
GOOD = "three short planks"


@pytest.fixture
def found(monkeypatch):
    def run(password=GOOD, **changed):
        monkeypatch.setattr(sys, "stdin", io.StringIO(password + "\n"))
        said = io.StringIO()
        call_command("found", stdout=said, **ASKED | changed)
        return said.getvalue()

    return run


def test_the_owner_signs_in_afterwards(found):
    assert "can sign in" in found()
    owner = everywhere(Person, why="a test").get()
    assert (owner.role, owner.shop.code, owner.business.name) == ("owner", "HY", "Springwell")
    answer = Client().post(
        "/api/session/", {"email": ASKED["email"], "password": GOOD}, content_type="application/json"
    )
    assert answer.status_code == 200


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"code": "HARBOUR"}, "code"),
        ({"email": "wren"}, "email"),
        ({"owner": ""}, "name"),
        ({"business": ""}, "name"),
        ({"time_zone": "Harbour/Yard"}, "time zone"),
        ({"password": "short"}, "too short"),
        ({"password": "wren halloran"}, "too similar"),
    ],
)
def test_what_cannot_be_kept_is_refused_and_nothing_is_set_up(found, changed, said):
    with pytest.raises(CommandError, match=said):
        found(**changed)
    assert not Business.objects.exists()


def test_never_beside_the_demo(found):
    BusinessFactory(name=BUSINESS)
    with pytest.raises(CommandError, match="never mixed"):
        found()
    assert Business.objects.count() == 1


def test_a_password_typed_differently_twice_is_refused(monkeypatch):
    typed = iter([GOOD, GOOD + "x"])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("getpass.getpass", lambda prompt: next(typed))
    with pytest.raises(CommandError, match="differ"):
        call_command("found", **ASKED)
    assert not Business.objects.exists()
