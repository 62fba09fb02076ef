"""Customers, bikes, riders, job cards and what hangs on them, and the sealed record.

A card's suspension is kept as the plain mapping that calc takes (`body`), checked by `setups.bodies` before
it is saved; what a query must find has a column of its own.
"""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from setups.approval_models import Estimate, EstimateAsk, EstimateOpening, Override  # noqa: F401  # as below
from setups.bike_models import BikeMerge, OwnerChange  # noqa: F401  # Django finds models here alone
from setups.photo_models import Photo
from setups.secret_links import SecretLink
from shops.access import Scoped
from shops.models import Business, Person, Shop, StockSpring, Tool


class End(models.TextChoices):
    """The two ends of a bike."""

    FRONT = "front", _("front")
    REAR = "rear", _("rear")


class Kind(models.TextChoices):
    """Kinds of bike that share a sag target and usual unsprung masses."""

    MOTOCROSS = "motocross", _("motocross")
    ENDURO = "enduro", _("enduro")
    ADVENTURE = "adventure", _("adventure")
    STREET = "street", _("street")
    TRACK = "track", _("track")


class KindOfBike(Scoped):
    """What a business takes as usual for one kind of bike at one end: sag bands in percent of travel,
    unsprung mass.

    Editable by a manager; the values that a new business starts with are common practice, no source.
    """

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="kinds")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    end = models.CharField(max_length=5, choices=End.choices)
    static_low_percent = models.FloatField()
    static_high_percent = models.FloatField()
    rider_low_percent = models.FloatField()
    rider_high_percent = models.FloatField()
    unsprung_kg = models.FloatField()
    source = models.CharField(max_length=200, default="common practice, no source")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["kind", "end"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["business", "kind", "end"], name="kind_and_end_once")
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.end}"


class Customer(Scoped):
    """Who owns the bike and is handed the record. Every field but the business is personal."""

    personal_fields = frozenset({"code", "name", "phone", "email", "notes"})

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="customers")
    code = models.CharField(max_length=40, blank=True, help_text="The business's own number for the customer.")
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    notes = models.TextField(blank=True, help_text="Internal; never on the customer's page.")
    erased_at = models.DateTimeField(null=True, blank=True, help_text="Since when nothing personal is kept.")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["name", "id"]
        indexes: ClassVar = [models.Index(fields=["business", "name", "id"], name="customers_by_name")]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["business", "code"], condition=~models.Q(code=""), name="customer_code_once"
            )
        ]

    def __str__(self) -> str:
        return self.name


class Rider(Scoped):
    """Who rides; a customer may bring several riders. The mass is taken in full kit."""

    personal_fields = frozenset({"name", "mass_in_kit_kg"})

    business_path = "customer__business"

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="riders")
    name = models.CharField(max_length=120)
    mass_in_kit_kg = models.FloatField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class Bike(Scoped):
    """A bike with its suspension data, as far as the business knows them.

    `front` and `rear` are the fixed data of each end (see `setups.bodies`), `sources` says where each fact
    comes from.
    """

    personal_fields = frozenset({"plate", "frame_number", "notes"})

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="bikes")
    owner = models.ForeignKey(Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="bikes")
    make = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    plate = models.CharField(max_length=20, blank=True)
    frame_number = models.CharField(max_length=40, blank=True)
    front = models.JSONField(null=True, blank=True)
    rear = models.JSONField(null=True, blank=True)
    chassis = models.JSONField(null=True, blank=True, help_text="See `setups.chassis_data`.")
    sources = models.JSONField(default=dict, blank=True)
    notes = models.TextField(blank=True)
    merged_into = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="twins",
        help_text="Set where this bike was entered twice: it is hidden, and its cards hang on that one.",
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["make", "model", "id"]
        indexes: ClassVar = [models.Index(fields=["business", "make", "model", "id"], name="bikes_by_make")]

    def __str__(self) -> str:
        return f"{self.make} {self.model}"


class JobCard(Scoped):
    """One job, from taking the bike in to the sealed record."""

    personal_fields = frozenset({"complaint", "internal_notes", "explanation", "next_service_note", "cases"})

    class Step(models.TextChoices):
        RECEIVED = "received", _("as received")
        MEASURED = "measured", _("measured")
        CHOSEN = "chosen", _("chosen")
        BUILT = "built", _("built")
        REMEASURED = "remeasured", _("measured again")
        HANDED_OVER = "handed_over", _("handed over")
        SEALED = "sealed", _("sealed")

    class Loose(models.TextChoices):
        NONE = "", _("on the bike")
        FORK = "fork", _("loose fork")
        SHOCK = "shock", _("loose shock")

    shop_path = "shop"

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="cards")
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="cards")
    number = models.CharField(max_length=20)
    step = models.CharField(max_length=12, choices=Step.choices, default=Step.RECEIVED)
    bike = models.ForeignKey(Bike, on_delete=models.PROTECT, null=True, blank=True, related_name="cards")
    loose = models.CharField(max_length=5, choices=Loose.choices, default=Loose.NONE, blank=True)
    loose_description = models.CharField(max_length=200, blank=True)
    loose_front = models.JSONField(
        null=True, blank=True, help_text="The loose fork's data, as a bike's `front`."
    )
    loose_rear = models.JSONField(
        null=True, blank=True, help_text="The loose shock's data, as a bike's `rear`."
    )
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="cards")
    rider = models.ForeignKey(Rider, on_delete=models.PROTECT, null=True, blank=True, related_name="cards")
    complaint = models.TextField(blank=True)
    internal_notes = models.TextField(blank=True)
    explanation = models.TextField(
        blank=True, help_text="What the technician tells the rider, in plain words."
    )
    distance_km = models.FloatField(null=True, blank=True)
    hours = models.FloatField(null=True, blank=True)
    next_service_on = models.DateField(null=True, blank=True)
    next_service_note = models.CharField(max_length=200, blank=True)
    targets = models.JSONField(
        default=dict, blank=True, help_text="Sag bands in mm per end; empty: the kind's own."
    )
    corrections = models.JSONField(
        default=dict, blank=True, help_text="Per end, what earlier cards of the model showed and somebody accepted."
    )
    altitude_m = models.FloatField(default=0.0)
    cases = models.JSONField(
        default=list, blank=True, help_text="Load cases beside the rider alone; see `setups.load_cases`."
    )
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["-opened_at", "-id"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["shop", "number"], name="card_number_once")]
        indexes: ClassVar = [
            models.Index(fields=["business", "-opened_at"]),
            models.Index(fields=["business", "shop", "-opened_at"], name="card_of_a_shop"),
            models.Index(
                fields=["business", "opened_at"], condition=~models.Q(step="sealed"), name="card_still_open"
            ),
            models.Index(fields=["business", "step", "-opened_at"], name="cards_by_step"),
        ]

    def __str__(self) -> str:
        return self.number


class Reading(Scoped):
    """One raw reading, never edited: a wrong one is struck and taken again."""

    class Stage(models.TextChoices):
        RECEIVED = "received", _("as received")
        BUILT = "built", _("measured again")

    class Quantity(models.TextChoices):
        WHEEL_FREE = "wheel_free_mm", _("wheel free")
        ALONE_ABOVE = "alone_from_above_mm", _("bike alone, from above")
        ALONE_BELOW = "alone_from_below_mm", _("bike alone, from below")
        RIDER_ABOVE = "rider_from_above_mm", _("with rider, from above")
        RIDER_BELOW = "rider_from_below_mm", _("with rider, from below")
        AXLE_ALONE = "axle_alone_kg", _("axle load, bike alone")
        AXLE_RIDER = "axle_rider_kg", _("axle load, with rider")

    business_path = "card__business"
    shop_path = "card__shop"

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="readings")
    stage = models.CharField(max_length=8, choices=Stage.choices)
    end = models.CharField(max_length=5, choices=End.choices)
    quantity = models.CharField(max_length=20, choices=Quantity.choices)
    value = models.FloatField()
    instrument = models.CharField(max_length=120, blank=True)
    origin = models.CharField(
        max_length=10, default="measured", help_text="measured, stamped, manual or assumed."
    )
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(default=timezone.now)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.stage} {self.end} {self.quantity} {self.value}"


class Setting(Scoped):
    """How one end stands at one stage of the job: springs, preload, gap, clickers, tyre; see
    `setups.bodies`.
    """

    class Stage(models.TextChoices):
        RECEIVED = "received", _("as received")
        CHOSEN = "chosen", _("chosen")
        BUILT = "built", _("as built")

    business_path = "card__business"
    shop_path = "card__shop"

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="settings")
    stage = models.CharField(max_length=8, choices=Stage.choices)
    end = models.CharField(max_length=5, choices=End.choices)
    body = models.JSONField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["card", "stage", "end"], name="one_setting_per_stage_and_end"),
        ]

    def __str__(self) -> str:
        return f"{self.stage} {self.end}"


class TorqueLine(Scoped):
    """One fastener. The value comes from the bike's own manual, typed by the technician; nothing here
    supplies one.
    """

    shop_path = "card__shop"

    business = models.ForeignKey(
        Business, on_delete=models.PROTECT, related_name="+", db_index=False, editable=False,
        help_text="Its card's; kept here for an index, as is `opened_at`.",
    )  # fmt: skip
    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="torques")
    fastener = models.CharField(max_length=120)
    count = models.PositiveSmallIntegerField(
        default=1, help_text="How many of it: each one tightened is a cycle of the wrench."
    )
    value_nm = models.FloatField(null=True, blank=True)
    source_edition = models.CharField(max_length=120, blank=True)
    source_page = models.CharField(max_length=40, blank=True)
    wrench = models.ForeignKey(Tool, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    needs_second_check = models.BooleanField(default=False)
    tightened_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    tightened_at = models.DateTimeField(null=True, blank=True)
    checked_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    checked_at = models.DateTimeField(null=True, blank=True)
    calibration = models.JSONField(
        null=True, blank=True, help_text="The wrench's calibration when it was tightened; see shops.calibration."
    )
    opened_at = models.DateTimeField(
        editable=False,
        help_text="When its card was opened, by which audits put lines in order; kept here for an index.",
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["id"]
        # What an audit asks for is rare: small indexes of just that, in the order in which it is listed.
        indexes: ClassVar = [
            models.Index(
                fields=["business", "-opened_at", "-id"],
                condition=models.Q(
                    models.Q(checked_by__isnull=True) | models.Q(checked_by=models.F("tightened_by")),
                    needs_second_check=True, tightened_by__isnull=False,
                ),
                name="unchecked_by_day",
            ),
            models.Index(
                fields=["business", "-opened_at", "-id"],
                condition=models.Q(
                    models.Q(source_edition="") | models.Q(source_page=""), value_nm__isnull=False
                ),
                name="unsourced_by_day",
            ),
            models.Index(fields=["wrench", "tightened_at"], name="torque_of_a_wrench"),
            # The value as numbers are compared with it, which is not its text: else nobody uses the index.
            models.Index(models.F("calibration__cycles"), name="torque_by_cycles"),
        ]  # fmt: skip

    def __str__(self) -> str:
        return self.fastener

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save, a new line with its card's business and day."""
        if self._state.adding:
            self.business_id, self.opened_at = self.card.business_id, self.card.opened_at
        super().save(*args, **kwargs)


class PartLine(Scoped):
    """A part fitted or given back to the customer."""

    class Direction(models.TextChoices):
        FITTED = "fitted", _("fitted")
        GIVEN_BACK = "given_back", _("given back")

    business_path = "card__business"
    shop_path = "card__shop"

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="parts")
    direction = models.CharField(max_length=10, choices=Direction.choices)
    description = models.CharField(max_length=200)
    quantity = models.PositiveSmallIntegerField(default=1)
    batch = models.CharField(max_length=40, blank=True)
    spring = models.ForeignKey(StockSpring, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return self.description


class BatchUse(Scoped):
    """A batch of springs, oil or parts that a card put into a bike, kept so that a recall finds it.

    Follows the card's as-built settings and its parts; see `setups.batches`.
    """

    class What(models.TextChoices):
        SPRING = "spring", _("spring")
        OIL = "oil", _("oil")
        PART = "part", _("part")

    business_path = "business"
    shop_path = "shop"

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="+")
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="+")
    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="batch_uses")
    what = models.CharField(max_length=6, choices=What.choices)
    end = models.CharField(max_length=5, choices=End.choices, blank=True)
    batch = models.CharField(max_length=40)
    batch_key = models.CharField(max_length=40, help_text="The batch without regard to case and spacing.")
    label = models.CharField(max_length=200, help_text="What it is: the spring's label, the oil's grade, the part.")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar = ["-at", "-id"]
        indexes: ClassVar = [models.Index(fields=["business", "batch_key", "-at"], name="batch_use_of_a_batch")]

    def __str__(self) -> str:
        return f"{self.what} {self.batch}"


class CautionRead(Scoped):
    """Somebody has read a caution at its step, before the action."""

    business_path = "card__business"
    shop_path = "card__shop"

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="cautions_read")
    key = models.CharField(max_length=40)
    read_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    read_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["card", "key"], name="caution_read_once")]

    def __str__(self) -> str:
        return self.key


class SignOff(Scoped):
    """A person answers for a part of the job; it stays when the person leaves."""

    class Part(models.TextChoices):
        WORK = "work", _("work done")
        HAND_OVER = "hand_over", _("handed over and explained")

    business_path = "card__business"
    shop_path = "card__shop"

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="sign_offs")
    part = models.CharField(max_length=10, choices=Part.choices)
    statement = models.CharField(max_length=300)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["card", "part"], name="one_sign_off_per_part")
        ]

    def __str__(self) -> str:
        return f"{self.part} by {self.by_id}"


class SealedRecord(Scoped):
    """A link of the shop's chain: the frozen document of a sealed card, or of an amendment to one.

    `public` and `internal` are RFC 8785 canonical JSON texts; their digests enter `head` together with the
    number and the previous head.
    """

    class What(models.TextChoices):
        CARD = "card", _("card")
        AMENDMENT = "amendment", _("amendment")

    business_path = "shop__business"
    shop_path = "shop"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="records")
    card = models.ForeignKey(JobCard, on_delete=models.PROTECT, related_name="records")
    what = models.CharField(max_length=9, choices=What.choices)
    number = models.PositiveIntegerField()
    public = models.TextField()
    internal = models.TextField()
    public_digest = models.CharField(max_length=64)
    internal_digest = models.CharField(max_length=64)
    previous_head = models.CharField(max_length=64, blank=True)
    head = models.CharField(max_length=64)
    sealed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    sealed_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["shop_id", "number"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["shop", "number"], name="record_number_once"),
            models.UniqueConstraint(
                fields=["card"],
                condition=models.Q(what="card"),
                name="a_card_is_sealed_once",
            ),
        ]
        indexes: ClassVar = [
            # Not by db_index, which on PostgreSQL adds a second index for what nobody asks, beginnings.
            models.Index(fields=["head"], name="record_of_a_head"),
            models.Index(
                fields=["-sealed_at", "-id"], condition=models.Q(what="amendment"), name="amendments_by_day"
            ),
            models.Index(fields=["-sealed_at", "-id"], condition=models.Q(what="card"), name="records_by_day"),
        ]

    def __str__(self) -> str:
        return f"{self.shop_id}/{self.number}"


class BuiltSag(Scoped):
    """One sag of a sealed card: what calc said of the bike as built, uncorrected, and what was then measured.

    What a model of bike has taught is read off these rows alone; no personal value is among them.
    """

    class Sag(models.TextChoices):
        STATIC = "static", _("static sag")
        RIDER = "rider", _("rider sag")

    shop_path = "shop"

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="+")
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="+")
    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="built_sags")
    make = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    model_key = models.CharField(max_length=130, help_text="Make and model without regard to case and spacing.")
    year = models.PositiveSmallIntegerField(null=True)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    end = models.CharField(max_length=5, choices=End.choices)
    sag = models.CharField(max_length=6, choices=Sag.choices)
    predicted_mm = models.FloatField()
    measured_mm = models.FloatField()
    difference_mm = models.FloatField(help_text="Measured less predicted: positive where it sagged more.")
    u_mm = models.FloatField(help_text="Standard uncertainty of the measured sag.")
    sealed_at = models.DateTimeField()
    left_out = models.CharField(max_length=200, blank=True, help_text="Why it no longer counts: what was amended.")

    class Meta:
        ordering: ClassVar = ["-sealed_at", "-id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["card", "end", "sag"], name="one_built_sag_per_end_and_kind")
        ]
        indexes: ClassVar = [
            models.Index(fields=["business", "model_key", "-sealed_at"], name="built_sag_of_a_model"),
            models.Index(fields=["business", "shop", "-sealed_at"], name="built_sag_of_a_shop"),
        ]

    def __str__(self) -> str:
        return f"{self.make} {self.model} {self.end} {self.sag} {self.difference_mm:+.1f} mm"


class SagTotal(Scoped):
    """What the counted `BuiltSag` rows of a shop, model, end and sag add up to, so that nobody adds millions of them.

    Kept by `setups.sag_totals`, in the transaction of whatever adds or leaves out a row.
    """

    shop_path = "shop"

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="+")
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="+")
    model_key = models.CharField(max_length=130)
    end = models.CharField(max_length=5, choices=End.choices)
    sag = models.CharField(max_length=6, choices=BuiltSag.Sag.choices)
    make = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    first = models.BigIntegerField(help_text="The id of the first row counted, by which a list names the group.")
    cards = models.PositiveIntegerField(default=0)
    sum_mm = models.FloatField(default=0.0, help_text="Of the differences.")
    squares_mm2 = models.FloatField(default=0.0, help_text="Of the differences' squares.")
    u_squares_mm2 = models.FloatField(default=0.0, help_text="Of the squares of the standard uncertainties.")

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["shop", "model_key", "end", "sag"], name="one_total_per_model_and_sag")
        ]

    def __str__(self) -> str:
        return f"{self.make} {self.model} {self.end} {self.sag}: {self.cards}"


class SagMonth(Scoped):
    """What the rows of a `SagTotal` that were sealed in one month, in UTC, add up to; kept together with it."""

    business_path = "total__business"
    shop_path = "total__shop"

    total = models.ForeignKey(SagTotal, on_delete=models.CASCADE, related_name="months", db_index=False)
    month = models.DateField(help_text="Its first day.")
    cards = models.PositiveIntegerField(default=0)
    sum_mm = models.FloatField(default=0.0)
    squares_mm2 = models.FloatField(default=0.0)
    u_squares_mm2 = models.FloatField(default=0.0)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["total", "month"], name="one_sum_per_total_and_month")]

    def __str__(self) -> str:
        return f"{self.total_id} in {self.month}: {self.cards}"


class PersonalValue(Scoped):
    """A personal value that a sealed document only commits to: SHA-256 over its salt and itself. Erasable."""

    business_path = "record__shop__business"
    shop_path = "record__shop"

    record = models.ForeignKey(SealedRecord, on_delete=models.CASCADE, related_name="personal_values")
    path = models.CharField(max_length=80)
    value = models.JSONField(null=True)
    salt = models.CharField(max_length=64, blank=True)
    shared = models.BooleanField(
        default=False, help_text="May be shown through a customer link without more ado."
    )
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["record", "path"], name="one_value_per_path")
        ]

    def __str__(self) -> str:
        return self.path


class StoredPdf(Scoped):
    """The PDF of a sealed record, rendered at the first request and served unchanged ever after."""

    business_path = "record__shop__business"
    shop_path = "record__shop"

    record = models.OneToOneField(SealedRecord, on_delete=models.CASCADE, related_name="pdf")
    content = models.BinaryField()
    content_digest = models.CharField(max_length=64, help_text="SHA-256 of the bytes, as they were stored.")
    rendered_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"PDF of {self.record_id}"


class CustomerLink(SecretLink):
    """A link that shows one card's record to the customer."""

    longest_days = 366

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="links")
    share_mass = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar = ["-id"]

    def __str__(self) -> str:
        return f"link of {self.card_id}"


class LinkOpening(Scoped):
    """One opening of a customer link."""

    business_path = "link__card__business"
    shop_path = "link__card__shop"

    link = models.ForeignKey(CustomerLink, on_delete=models.CASCADE, related_name="openings")
    at = models.DateTimeField(default=timezone.now)
    address = models.GenericIPAddressField(null=True)

    def __str__(self) -> str:
        return f"{self.link_id} at {self.at}"


class Erasure(Scoped):
    """That a customer's personal data, those of one card's record, or one photo, were erased: ids, and no value.

    Tablets ask for it to forget their copies, and a restored backup is made to follow it.
    """

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="erasures")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, null=True, related_name="+")
    card = models.ForeignKey(JobCard, on_delete=models.PROTECT, null=True, related_name="+")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, related_name="+")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"erasure {self.pk}"
