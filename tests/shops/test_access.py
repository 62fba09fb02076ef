"""The one door: whose rows a query may reach, and what an undeclared permission does."""

from __future__ import annotations

from typing import ClassVar

import pytest
from django.apps import apps
from django.contrib.auth.models import AnonymousUser
from django.db.models import Count
from rest_framework.response import Response
from rest_framework.test import APIRequestFactory, force_authenticate
from rest_framework.views import APIView

from shops.access import Scoped, UnscopedQuery, everywhere, rows, rows_to_change
from shops.models import Person, Shop, Tool
from shops.web.base import RowsView
from tests.factories import PersonFactory, ShopFactory, ToolFactory

SCOPED = [model for model in apps.get_models() if issubclass(model, Scoped)]
REACHES = {
    "all": lambda q: list(q.all()),
    "count": lambda q: q.count(),
    "exists": lambda q: q.exists(),
    "first": lambda q: q.first(),
    "last": lambda q: q.order_by("pk").last(),
    "get": lambda q: q.get(pk=1),
    "filter": lambda q: list(q.filter(pk=1)),
    "exclude": lambda q: list(q.exclude(pk=1)),
    "values": lambda q: list(q.values("pk")),
    "values_list": lambda q: list(q.values_list("pk", flat=True)),
    "iterator": lambda q: list(q.iterator()),
    "in_bulk": lambda q: q.in_bulk([1]),
    "aggregate": lambda q: q.aggregate(n=Count("pk")),
    "update": lambda q: q.update(pk=1),
    "delete": lambda q: q.filter(pk=1).delete(),
    "slice": lambda q: list(q.all()[:3]),
    "index": lambda q: q.all()[0],
    "length": lambda q: len(q.all()),
    "truth": lambda q: bool(q.all()),
    "contains": lambda q: q.model(pk=1) in q.all(),
    "get_or_create": lambda q: q.get_or_create(pk=1),
    "raw": lambda q: list(q.raw("SELECT 1 AS id")),
    "union": lambda q: list(q.filter(pk=1).union(q.filter(pk=2))),
    "or": lambda q: list(q.filter(pk=1) | q.filter(pk=2)),
    "related": lambda q: list(q.select_related().distinct()),
}


@pytest.mark.parametrize("model", SCOPED, ids=lambda model: model.__name__)
def test_a_query_without_a_scope_raises(db, model):
    for name, reach in REACHES.items():
        try:
            reach(model.objects)
        except UnscopedQuery:
            continue
        pytest.fail(f"{model.__name__}.objects: {name} went through unscoped")


def test_every_row_of_a_business_is_scoped():
    unscoped = {m.__name__ for m in apps.get_models() if m._meta.app_label in {"shops", "setups"}} - {
        m.__name__ for m in SCOPED
    }
    # Tries count keyed digests of whoever knocks, before anybody knows whose they are.
    assert unscoped == {"Business", "Tries"}


@pytest.mark.parametrize("model", SCOPED, ids=lambda model: model.__name__)
def test_every_model_says_whose_it_is(db, technician, model):
    assert list(rows(model, technician).filter(pk=0)) == []
    assert list(rows_to_change(model, technician).filter(pk=0)) == []


def test_an_unscoped_query_cannot_slip_in_through_another(technician):
    mine = rows(Tool, technician)
    with pytest.raises(UnscopedQuery):
        list(mine | Tool.objects.all())
    with pytest.raises(UnscopedQuery):
        list(mine & Tool.objects.all())
    with pytest.raises(UnscopedQuery):
        list(mine.union(Tool.objects.all()))
    with pytest.raises(UnscopedQuery):
        list(mine.filter(shop__in=Shop.objects.all()))


def test_rows_stay_scoped_through_every_further_step(technician, shop):
    tool = ToolFactory(shop=shop)
    assert list(rows(Tool, technician).filter(pk=tool.pk).order_by("name").select_related("shop")) == [tool]


def test_rows_hanging_on_a_row_that_is_held_can_be_read(technician, shop):
    tool = ToolFactory(shop=shop)
    assert list(shop.tools.all()) == [tool]
    assert tool.shop == shop


def test_reading_reaches_the_business_and_changing_the_shop(
    technician, manager, owner, stranger, shop, sister_shop, other_shop
):
    mine, sisters, foreign = (ToolFactory(shop=place) for place in (shop, sister_shop, other_shop))
    for person in (technician, manager):
        assert set(rows(Tool, person)) == {mine, sisters}
        assert set(rows_to_change(Tool, person)) == {mine}
    assert set(rows_to_change(Tool, owner)) == {mine, sisters}
    assert set(rows(Tool, stranger)) == set(rows_to_change(Tool, stranger)) == {foreign}


def test_an_inactive_person_reaches_nothing(technician, shop):
    ToolFactory(shop=shop)
    technician.is_active = False
    assert not rows(Tool, technician).exists()
    assert not rows_to_change(Tool, technician).exists()


def test_everywhere_wants_a_reason(db):
    with pytest.raises(UnscopedQuery):
        everywhere(Tool, why="")
    assert not everywhere(Tool, why="this test").exists()


class Declared(RowsView):
    model = Tool
    roles: ClassVar = {"list": frozenset({Person.Role.MANAGER})}

    def list(self, request):
        return Response("listed")

    def create(self, request):
        return Response("created")


class Bare(APIView):
    def get(self, request):
        return Response("got")


def ask(view, method, person):
    request = getattr(APIRequestFactory(), method)("/")
    force_authenticate(request, person)
    return view(request).status_code


@pytest.mark.parametrize("role", Person.Role.values)
def test_an_undeclared_action_refuses_every_role(shop, role):
    person = PersonFactory(shop=shop, role=role)
    view = Declared.as_view({"get": "list", "post": "create"})
    assert ask(view, "post", person) == 403
    assert ask(view, "get", person) == (200 if role == "manager" else 403)
    assert ask(view, "put", person) == 405


@pytest.mark.parametrize("role", Person.Role.values)
def test_a_view_that_declares_nothing_refuses_every_role(shop, role):
    assert ask(Bare.as_view(), "get", PersonFactory(shop=shop, role=role)) == 403


def test_nobody_and_an_inactive_person_are_refused_what_is_declared(shop):
    view = Declared.as_view({"get": "list"})
    assert ask(view, "get", AnonymousUser()) == 403
    assert ask(view, "get", PersonFactory(shop=shop, role="manager", is_active=False)) == 403


def test_a_shop_is_changed_by_its_own_people_and_owners(technician, owner, shop, sister_shop):
    ShopFactory()
    assert set(rows_to_change(Shop, technician)) == {shop}
    assert set(rows_to_change(Shop, owner)) == {shop, sister_shop}
