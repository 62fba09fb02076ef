"""A technician at a bench: one open card, and one way of typing for each place."""

from __future__ import annotations

from copy import deepcopy

from setups.bodies import received_body
from setups.models import Bike, Reading, Rider, Setting
from shops.access import everywhere
from shops.models import StockSpring
from tests.factories import BikeFactory, CustomerFactory, JobCardFactory, RiderFactory, front_data, rear_data


def straight(rate):
    return {"kind": "straight", "rate_n_per_mm": rate}


def at(holder, path, value):
    """Return a copy of `holder` with `value` at the dotted `path`."""
    changed = deepcopy(holder)
    *way, last = path.split(".")
    inner = changed
    for step in way:
        inner = inner[int(step)] if isinstance(inner, list) else inner[step]
    inner[int(last) if isinstance(inner, list) else last] = value
    return changed


class Bench:
    """A technician's client, one open card, and one way of typing for each place."""

    def __init__(self, client, shop):
        self.client, self.shop = client, shop
        self.customer = CustomerFactory(business=shop.business)
        bike = BikeFactory(business=shop.business, owner=self.customer)
        rider = RiderFactory(customer=self.customer)
        self.card = JobCardFactory(shop=shop, customer=self.customer, bike=bike, rider=rider)
        self.address = f"/api/cards/{self.card.pk}/"

    def rider(self, mass):
        return self.client.post(
            "/api/riders/", {"customer": self.customer.pk, "name": "Ravel Stoop", "mass_in_kit_kg": mass}
        )

    def changed_rider(self, mass):
        return self.client.patch(
            f"/api/riders/{self.card.rider.pk}/", {"mass_in_kit_kg": mass}, HTTP_IF_MATCH='"1"'
        )

    def readings(self, end="rear", **values):
        taken = [
            {"stage": "received", "end": end, "quantity": key, "value": value} for key, value in values.items()
        ]
        return self.client.post(f"{self.address}readings/", {"readings": taken})

    def setting(self, end, path, value, stage="received"):
        body = received_body(front_data() if end == "front" else rear_data(), end)
        return self.client.put(
            f"{self.address}settings/{stage}/{end}/", at(body, path, value), HTTP_IF_NONE_MATCH="*"
        )

    def bike(self, end, path, value):
        data = front_data() if end == "front" else rear_data()
        return self.client.post(
            "/api/bikes/",
            {
                "owner": self.customer.pk,
                "make": "Brackwater",
                "model": "Heron",
                "kind": "enduro",
                end: at(data, path, value),
            },
        )

    def loose(self, end, path, value):
        data = front_data() if end == "front" else rear_data()
        body = {"customer": self.customer.pk, "loose": "fork" if end == "front" else "shock"}
        return self.client.post("/api/cards/", {**body, f"loose_{end}": at(data, path, value)})

    def received(self, end):
        """Return what is said of an end as received."""
        return self.client.get(f"{self.address}sides/").json()["received"][end]

    def kept(self):
        """Count every row that typing here could have left behind."""
        return [
            everywhere(model, why="this test").count() for model in (Rider, Reading, Setting, Bike, StockSpring)
        ]
