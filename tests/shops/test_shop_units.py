"""The units in which a shop's records are read."""

from __future__ import annotations

import pytest

from shops.models import default_units

pytestmark = pytest.mark.django_db


def changed(client, shop, units):
    return client.patch(f"/api/shops/{shop.pk}/", {"units": units}, format="json", headers={"If-Match": '"1"'})


def test_records_are_metric_until_a_shop_chooses_and_a_choice_leaves_the_rest(manager_client, shop):
    assert manager_client.get(f"/api/shops/{shop.pk}/").json()["units"] == default_units()
    answer = changed(manager_client, shop, {"length": "in", "rate": "lbf/in"})
    assert answer.status_code == 200, answer.content
    assert answer.json()["units"] == {**default_units(), "length": "in", "rate": "lbf/in"}


def test_a_unit_of_another_quantity_is_refused_at_its_field(manager_client, shop):
    answer = changed(manager_client, shop, {"length": "psi"})
    assert answer.status_code == 400
    [problem] = answer.json()["problems"]
    assert (problem["field"], problem["code"], problem["value"]) == ("units.length", "unknown_unit", "psi")
    shop.refresh_from_db()
    assert shop.units == default_units()


def test_a_new_shop_may_come_with_units(owner_client):
    body = {"name": "Quay Yard", "code": "QY", "units": {"torque": "lbf·ft"}}
    answer = owner_client.post("/api/shops/", body, format="json")
    assert answer.status_code == 201, answer.content
    assert answer.json()["units"]["torque"] == "lbf·ft"
