"""Businesses, their shops, people, workshop tools, the spring list and the audit trail."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser
from django.db import models
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from calc.units import FACTORS
from shops import keys  # noqa: F401  # its models are this app's too
from shops.access import Scoped, ScopedManager, everywhere
from shops.language import choices as languages


class Business(models.Model):
    """One company; nothing crosses from one to another."""

    name = models.CharField(max_length=120)
    currency = models.CharField(max_length=3, default="EUR", help_text="ISO 4217; estimates are in it.")
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    def __str__(self) -> str:
        return self.name


def default_units() -> dict[str, str]:
    """Return the units shown to whoever has chosen none: the metric ones that travel."""
    return {quantity: next(iter(units)) for quantity, units in FACTORS.items()}


class Shop(Scoped):
    """A branch: where cards are opened, springs lie on the shelf and records are chained."""

    shop_path = "id"

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "Letter", "Letter"

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="shops")
    name = models.CharField(max_length=120)
    code = models.CharField(max_length=6, help_text="Begins every card number of this shop.")
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    time_zone = models.CharField(max_length=60, default="UTC")
    paper = models.CharField(max_length=6, choices=Paper.choices, default=Paper.A4)
    language = models.CharField(
        max_length=8, choices=languages, default="en", help_text="Of records and of what customers read."
    )
    units = models.JSONField(default=default_units, help_text="In which its records are read, by quantity.")
    cards_opened = models.PositiveIntegerField(default=0, help_text="The last card number given out.")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["business", "code"], name="shop_code_once")]

    def __str__(self) -> str:
        return self.name


class PersonManager(ScopedManager):
    """Finds the person who signs in, before anyone's business is known."""

    def get_by_natural_key(self, email: str) -> Person:
        """Return the person with this e-mail address, written in whatever case."""
        return everywhere(Person, why="sign-in").get(email=email.strip().lower())


class Person(Scoped, AbstractBaseUser):
    """Somebody who works in the business and signs in by e-mail and password."""

    class Role(models.TextChoices):
        TECHNICIAN = "technician", _("technician")
        MANAGER = "manager", _("manager")
        OWNER = "owner", pgettext_lazy("a role", "owner")

    shop_path = "shop"
    personal_fields: ClassVar = frozenset({"email", "name"})

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="people")
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="people")
    email = models.EmailField(unique=True, help_text="Kept in lower case; the name to sign in with.")
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.TECHNICIAN)
    is_active = models.BooleanField(default=True, help_text="Cleared when somebody leaves; sign-offs stay.")
    units = models.JSONField(default=default_units)
    language = models.CharField(
        max_length=8, choices=languages, blank=True, default="", help_text="Blank: the shop's."
    )
    sessions_ended = models.PositiveIntegerField(default=0, help_text="Counted up to end every session at once.")
    version = models.PositiveIntegerField(default=1)

    objects: ClassVar[PersonManager] = PersonManager()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar = ["name"]

    @property
    def has_pin(self) -> bool:
        """Tell whether the person can take over a tablet."""
        return hasattr(self, "pin")

    @property
    def has_second_factor(self) -> bool:
        """Tell whether the person signs in with a second factor."""
        return hasattr(self, "second_factor") and self.second_factor.on_since is not None

    @property
    def owes_second_factor(self) -> bool:
        """Tell whether this installation asks the person for a second factor that is not on yet."""
        return self.role in settings.SECOND_FACTOR_FOR and not self.has_second_factor

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        # Django's own goes by the password alone, which somebody who leaves and comes back may keep.
        stamp = f"{self.password}{self.sessions_ended or ''}"
        return salted_hmac("shops.models.Person.session", stamp, secret=secret, algorithm="sha256").hexdigest()

    def __str__(self) -> str:
        return self.name


class Tool(Scoped):
    """A workshop tool whose calibration matters: a torque wrench, a scale, a spring tester."""

    class Kind(models.TextChoices):
        TORQUE_WRENCH = "torque_wrench", _("torque wrench")
        SCALE = "scale", _("scale")
        SPRING_TESTER = "spring_tester", _("spring tester")
        GAUGE = "gauge", _("gauge")

    business_path = "shop__business"
    shop_path = "shop"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="tools")
    kind = models.CharField(max_length=16, choices=Kind.choices)
    name = models.CharField(max_length=120)
    serial = models.CharField(max_length=60)
    calibrated_on = models.DateField(null=True, blank=True)
    calibration_due = models.DateField(
        null=True, blank=True, help_text="As the certificate says; see shops.calibration for a wrench."
    )
    cycles_since_calibration = models.PositiveIntegerField(default=0)
    certificate = models.CharField(max_length=120, blank=True)
    in_use = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["shop", "serial"], name="tool_serial_once")]

    def __str__(self) -> str:
        return f"{self.name} ({self.serial})"


class StockSpring(Scoped):
    """One line of the shop's spring list; `spring` is as calc takes it: kind, rates, solid deflection."""

    class End(models.TextChoices):
        FRONT = "front", _("fork")
        REAR = "rear", _("shock")

    business_path = "shop__business"
    shop_path = "shop"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="springs")
    end = models.CharField(max_length=5, choices=End.choices)
    code = models.CharField(max_length=40)
    label = models.CharField(max_length=120)
    spring = models.JSONField()
    tested = models.JSONField(
        null=True, blank=True, help_text="Tester readings of a spring of this line: deflection_mm and force_n."
    )
    sort_rate_n_per_mm = models.FloatField(help_text="What orders the list: a straight spring's own rate.")
    material = models.CharField(max_length=40, blank=True)
    wire_mm = models.FloatField(null=True, blank=True)
    outer_diameter_mm = models.FloatField(null=True, blank=True)
    inner_diameter_mm = models.FloatField(null=True, blank=True)
    free_length_mm = models.FloatField(null=True, blank=True)
    displaced_cm3 = models.FloatField(null=True, blank=True)
    mass_g = models.FloatField(null=True, blank=True)
    batch = models.CharField(max_length=40, blank=True)
    stock = models.PositiveIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["end", "sort_rate_n_per_mm", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["shop", "code", "batch"], name="spring_code_and_batch_once"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.label}"

    @property
    def stamped_n_per_mm(self) -> float | None:
        """The one rate that is stamped on it, N/mm; None for a spring of several."""
        rate: float | None = self.spring.get("rate_n_per_mm")
        return rate

    @property
    def curve(self) -> dict[str, Any]:
        """The spring as a card fits it: what its tester says, where it was tested, else what is stamped on it."""
        if self.tested is None:
            return dict(self.spring)
        solid, stamp = self.spring.get("solid_deflection_mm"), self.stamped_n_per_mm
        return {
            "kind": "tested",
            **self.tested,
            **({} if solid is None else {"solid_deflection_mm": solid}),
            **({} if stamp is None else {"stamped_n_per_mm": stamp}),
        }


class AuditEntry(Scoped):
    """One line of the trail: who did what to which row, when and from where. Written once, never changed.

    `before` and `after` hold the changed fields; a personal value is never among them, only its row's id.
    """

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="trail")
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, null=True, related_name="trail")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    address = models.GenericIPAddressField(null=True)
    verb = models.CharField(max_length=40)
    subject = models.CharField(max_length=40)
    subject_id = models.BigIntegerField()
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    reason = models.TextField(blank=True)

    class Meta:
        ordering: ClassVar = ["-id"]
        indexes: ClassVar = [
            models.Index(fields=["business", "subject", "subject_id"]),
            models.Index(fields=["business", "-at"], name="trail_by_day"),
            models.Index(fields=["business", "shop", "-at"], name="trail_of_a_shop"),
            models.Index(fields=["business", "person", "-at"], name="trail_of_a_person"),
            models.Index(fields=["business", "subject", "-at"], name="trail_of_a_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.verb} {self.subject} {self.subject_id}"


class IdempotentReply(Scoped):
    """The answer already given to a POST with this Idempotency-Key, so that a retry makes no second row."""

    business_path = "person__business"

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=80)
    request_digest = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField()
    body = models.JSONField()
    created_at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["person", "key"], name="one_reply_per_key")]

    def __str__(self) -> str:
        return self.key
