"""Rows for tests, one factory for each model that a test starts from. Everything in them is invented."""

from __future__ import annotations

from datetime import timedelta

import factory
from django.contrib.auth.hashers import make_password
from django.utils import timezone

from setups import approval_models as approvals
from setups import bike_models as bikes
from setups import estimates, sag_totals
from setups import models as setups
from setups import photo_models as photos
from setups.learned import model_key
from shops import keys
from shops import models as shops

PASSWORD = "plum anvil seven"


class BusinessFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = shops.Business

    name = factory.Sequence(lambda n: f"Springwell {n}")


class ShopFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = shops.Shop

    business = factory.SubFactory(BusinessFactory)
    name = factory.Sequence(lambda n: f"Yard {n}")
    code = factory.Sequence(lambda n: f"Y{n}")


class PersonFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = shops.Person

    shop = factory.SubFactory(ShopFactory)
    business = factory.SelfAttribute("shop.business")
    name = factory.Sequence(lambda n: f"Odo Fenwright {n}")
    email = factory.Sequence(lambda n: f"odo{n}@springwell.example")
    role = shops.Person.Role.TECHNICIAN
    password = factory.LazyFunction(lambda: make_password(PASSWORD))


class ToolFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = shops.Tool

    shop = factory.SubFactory(ShopFactory)
    kind = shops.Tool.Kind.TORQUE_WRENCH
    name = "Wrench 5 to 60 N·m"
    serial = factory.Sequence(lambda n: f"W-{n:04}")
    calibrated_on = factory.LazyFunction(lambda: timezone.now().date() - timedelta(days=30))
    calibration_due = factory.LazyFunction(lambda: timezone.now().date() + timedelta(days=335))
    certificate = "invented certificate"


class TabletFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = keys.Tablet

    shop = factory.SubFactory(ShopFactory)
    name = factory.Sequence(lambda n: f"Bench {n}")
    token_sha256 = factory.Sequence(lambda n: f"{n:064x}")
    enrolled_by = factory.SubFactory(PersonFactory, shop=factory.SelfAttribute("..shop"))


class InvitationFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = keys.Invitation

    shop = factory.SubFactory(ShopFactory)
    email = factory.Sequence(lambda n: f"corin{n}@springwell.example")
    role = shops.Person.Role.TECHNICIAN
    secret_sha256 = factory.Sequence(lambda n: f"{n:064x}")
    made_by = factory.SubFactory(PersonFactory, shop=factory.SelfAttribute("..shop"), role=shops.Person.Role.MANAGER)
    expires_at = factory.LazyFunction(lambda: timezone.now() + timedelta(days=7))


class StockSpringFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = shops.StockSpring

    shop = factory.SubFactory(ShopFactory)
    end = shops.StockSpring.End.FRONT
    code = factory.Sequence(lambda n: f"F{n:03}")
    label = factory.LazyAttribute(lambda o: f"Fork {o.sort_rate_n_per_mm} N/mm")
    sort_rate_n_per_mm = 4.6
    spring = factory.LazyAttribute(lambda o: {"kind": "straight", "rate_n_per_mm": o.sort_rate_n_per_mm})
    outer_diameter_mm = 36.0
    free_length_mm = 470.0
    displaced_cm3 = 60.0
    stock = 2


class AuditEntryFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = shops.AuditEntry

    shop = factory.SubFactory(ShopFactory)
    business = factory.SelfAttribute("shop.business")
    person = factory.SubFactory(PersonFactory, shop=factory.SelfAttribute("..shop"))
    verb = "change tool"
    subject = "tool"
    subject_id = factory.Sequence(lambda n: n + 1)


class CustomerFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.Customer

    business = factory.SubFactory(BusinessFactory)
    name = factory.Sequence(lambda n: f"Tamsin Quarrel {n}")
    phone = "000 0101"
    email = factory.Sequence(lambda n: f"tamsin{n}@rider.example")


class RiderFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.Rider

    customer = factory.SubFactory(CustomerFactory)
    name = factory.SelfAttribute("customer.name")
    mass_in_kit_kg = 88.0


class KindOfBikeFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.KindOfBike

    business = factory.SubFactory(BusinessFactory)
    kind = setups.Kind.ENDURO
    end = setups.End.FRONT
    static_low_percent = 10.0
    static_high_percent = 15.0
    rider_low_percent = 25.0
    rider_high_percent = 30.0
    unsprung_kg = 16.0

    @classmethod
    def _create(cls, model_class, *args, **kwargs):
        # A business starts with every kind: the one that is there is set.
        business, kind, end = (kwargs.pop(name) for name in ("business", "kind", "end"))
        row = business.kinds.get(kind=kind, end=end)
        for name, value in kwargs.items():
            setattr(row, name, value)
        row.save()
        return row


def front_data() -> dict:
    """Return an invented fork, as a bike's `front` keeps it."""
    leg = {
        "spring": {"kind": "straight", "rate_n_per_mm": 4.6},
        "preload_mm": 10, "air_gap_mm": 110, "solids_cm3": 70, "pressure_kpa": 0,
    }
    return {
        "stroke_mm": 300, "rake_deg": 26.5, "unsprung_kg": 16, "seal_diameter_mm": 48, "bore_diameter_mm": 42,
        "seat_length_mm": 490, "washers_mm": 2, "adjuster_mm": None, "spring_outer_max_mm": 38,
        "spring_length_mm": 470, "legs": [leg, dict(leg)],
    }


def rear_data() -> dict:
    """Return an invented rear end, as a bike's `rear` keeps it."""
    return {
        "wheel_travel_mm": 300, "unsprung_kg": 22, "shocks": 1,
        "leverage": {"kind": "ratio", "wheel_per_shock": 2.9},
        "adjuster_mm": [0, 25], "spring_inner_min_mm": 55, "spring_length_mm": 250,
        "spring": {"kind": "straight", "rate_n_per_mm": 52}, "preload_mm": 7, "gas_force_n": 250,
    }


class BikeFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.Bike

    business = factory.SubFactory(BusinessFactory)
    owner = factory.SubFactory(CustomerFactory, business=factory.SelfAttribute("..business"))
    make = "Brackwater"
    model = factory.Sequence(lambda n: f"Heron {n}")
    year = 2019
    kind = setups.Kind.ENDURO
    plate = factory.Sequence(lambda n: f"QX {n:04}")
    frame_number = factory.Sequence(lambda n: f"BRKH{n:08}")
    front = factory.LazyFunction(front_data)
    rear = factory.LazyFunction(rear_data)


class BikeMergeFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = bikes.BikeMerge

    kept = factory.SubFactory(BikeFactory)
    twin = factory.SubFactory(
        BikeFactory,
        business=factory.SelfAttribute("..kept.business"),
        owner=factory.SelfAttribute("..kept.owner"),
        merged_into=factory.SelfAttribute("..kept"),
    )
    by = factory.SubFactory(PersonFactory)
    reason = "Entered twice."


class JobCardFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.JobCard

    shop = factory.SubFactory(ShopFactory)
    business = factory.SelfAttribute("shop.business")
    number = factory.Sequence(lambda n: f"Y-{n:05}")
    customer = factory.SubFactory(CustomerFactory, business=factory.SelfAttribute("..business"))
    bike = factory.SubFactory(
        BikeFactory, business=factory.SelfAttribute("..business"), owner=factory.SelfAttribute("..customer")
    )
    rider = factory.SubFactory(RiderFactory, customer=factory.SelfAttribute("..customer"))
    complaint = "Dives under braking."
    opened_by = factory.SubFactory(PersonFactory, shop=factory.SelfAttribute("..shop"))


LABOUR = {"kind": "labour", "text": "Fork service", "amount_minor": 18_000}


class EstimateFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = approvals.Estimate

    card = factory.SubFactory(JobCardFactory)
    lines = factory.LazyFunction(lambda: [dict(LABOUR)])
    currency = factory.SelfAttribute("card.business.currency")


class EstimateAskFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = approvals.EstimateAsk

    card = factory.SubFactory(JobCardFactory)
    secret_sha256 = factory.Sequence(lambda n: f"{n:064x}")
    lines = factory.LazyFunction(lambda: [dict(LABOUR)])
    currency = "EUR"
    digest = factory.LazyAttribute(lambda o: estimates.digest_of(o.lines, o.currency))
    expires_at = factory.LazyFunction(lambda: timezone.now() + timedelta(days=14))
    made_by = factory.SelfAttribute("card.opened_by")


class PhotoFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = photos.Photo

    card = factory.SubFactory(JobCardFactory)
    about = "defect"
    content = b"not read by the tests that use this"
    small = b"nor this"
    width_px, height_px = 1600, 1200
    sha256 = factory.Sequence(lambda n: f"{n:064x}")
    sent_sha256 = factory.Sequence(lambda n: f"{n:064x}")
    taken_by = factory.SelfAttribute("card.opened_by")


class ReadingFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.Reading

    card = factory.SubFactory(JobCardFactory)
    stage = setups.Reading.Stage.RECEIVED
    end = setups.End.FRONT
    quantity = setups.Reading.Quantity.WHEEL_FREE
    value = 610.0
    instrument = "steel tape"
    taken_by = factory.SelfAttribute("card.opened_by")


class SettingFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.Setting

    card = factory.SubFactory(JobCardFactory)
    stage = setups.Setting.Stage.RECEIVED
    end = setups.End.REAR
    body = factory.LazyFunction(
        lambda: {
            "spring": {"kind": "straight", "rate_n_per_mm": 52}, "stock_spring": None, "label": "",
            "preload_mm": 7, "gas_force_n": 250, "clickers": [], "ride_height_mm": None,
            "tyre_pressure_kpa": None, "sources": {},
        }
    )


class TorqueLineFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.TorqueLine

    card = factory.SubFactory(JobCardFactory)
    fastener = "Front axle"
    needs_second_check = True


class PartLineFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.PartLine

    card = factory.SubFactory(JobCardFactory)
    direction = setups.PartLine.Direction.FITTED
    description = "Fork seal"
    quantity = 2


class BuiltSagFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.BuiltSag
        skip_postgeneration_save = True

    card = factory.SubFactory(JobCardFactory)
    business = factory.SelfAttribute("card.business")
    shop = factory.SelfAttribute("card.shop")
    make = factory.SelfAttribute("card.bike.make")
    model = factory.SelfAttribute("card.bike.model")
    model_key = factory.LazyAttribute(lambda o: model_key(o.make, o.model))
    year = factory.SelfAttribute("card.bike.year")
    kind = factory.SelfAttribute("card.bike.kind")
    end = setups.End.REAR
    sag = setups.BuiltSag.Sag.RIDER
    predicted_mm = 100.0
    measured_mm = 103.0
    difference_mm = factory.LazyAttribute(lambda o: o.measured_mm - o.predicted_mm)
    u_mm = 1.2
    sealed_at = factory.LazyFunction(timezone.now)

    @factory.post_generation
    def counted(self, create, extracted, **kwargs):
        if create and not self.left_out:
            sag_totals.add([self])


class CustomerLinkFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = setups.CustomerLink

    card = factory.SubFactory(JobCardFactory)
    secret_sha256 = factory.Sequence(lambda n: f"{n:064x}")
    expires_at = factory.LazyFunction(lambda: timezone.now() + timedelta(days=30))
    made_by = factory.SelfAttribute("card.opened_by")
