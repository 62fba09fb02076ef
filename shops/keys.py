"""What opens the door besides the password: enrolled tablets and PINs, second factors, invitations, recoveries.

Of every secret only a hash is kept, but for the second factor's key, from which codes are computed.
"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils import timezone

from shops.access import Scoped


class Tablet(Scoped):
    """A device of the shop that several people share: enrolled once, after that a PIN is enough to change hands."""

    business_path = "shop__business"
    shop_path = "shop"

    shop = models.ForeignKey("shops.Shop", on_delete=models.PROTECT, related_name="tablets")
    name = models.CharField(max_length=60)
    token_sha256 = models.CharField(max_length=64, unique=True)
    enrolled_by = models.ForeignKey("shops.Person", on_delete=models.PROTECT, related_name="+")
    enrolled_at = models.DateTimeField(default=timezone.now)
    revoked_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class OfPerson(Scoped):
    """A row that belongs to one person."""

    business_path = "person__business"
    shop_path = "person__shop"

    class Meta:
        abstract = True


class Pin(OfPerson):
    """A person's six digits for the shop's tablets; `wrong` counts the tries on all of them together."""

    person = models.OneToOneField("shops.Person", on_delete=models.CASCADE, related_name="pin")
    hash = models.CharField(max_length=200)
    set_at = models.DateTimeField(default=timezone.now)
    wrong = models.PositiveSmallIntegerField(default=0)

    def __str__(self) -> str:
        return f"PIN of {self.person_id}"


class PinTries(OfPerson):
    """How many wrong PINs were typed for a person on one tablet since that person was last let in there."""

    person = models.ForeignKey("shops.Person", on_delete=models.CASCADE, related_name="+")
    tablet = models.ForeignKey(Tablet, on_delete=models.CASCADE, related_name="+")
    wrong = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["person", "tablet"], name="tries_counted_once")]

    def __str__(self) -> str:
        return f"{self.wrong} of {self.person_id}"


class SecondFactor(OfPerson):
    """The key that a person's code app and this service share (RFC 6238); on once a code has confirmed it."""

    person = models.OneToOneField("shops.Person", on_delete=models.CASCADE, related_name="second_factor")
    key = models.CharField(max_length=40, help_text="20 random bytes in hex.")
    on_since = models.DateTimeField(null=True)
    last_step = models.BigIntegerField(default=-1, help_text="The time step of the last code taken: none is twice.")
    wrong = models.PositiveSmallIntegerField(default=0)
    wrong_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"second factor of {self.person_id}"


class RecoveryCode(OfPerson):
    """One of the codes that stand in for a lost second factor, each of them once."""

    person = models.ForeignKey("shops.Person", on_delete=models.CASCADE, related_name="recovery_codes")
    code_sha256 = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True)

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["person", "code_sha256"], name="recovery_code_once")]

    def __str__(self) -> str:
        return f"recovery code of {self.person_id}"


class Invitation(Scoped):
    """A place in a shop offered to somebody by e-mail; taking it up makes the person."""

    business_path = "shop__business"
    shop_path = "shop"
    personal_fields: ClassVar = frozenset({"email"})

    shop = models.ForeignKey("shops.Shop", on_delete=models.PROTECT, related_name="invitations")
    email = models.EmailField()
    role = models.CharField(max_length=12)
    secret_sha256 = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey("shops.Person", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["-id"]

    def __str__(self) -> str:
        return f"invitation {self.pk}"


class Recovery(OfPerson):
    """A way to a new password, once: asked for by mail, or handed over by a manager (`made_by`).

    Asked for an address that nobody signs in with, it belongs to no person and opens nothing; it is there so that
    both ways of asking do the same work.
    """

    person = models.ForeignKey("shops.Person", on_delete=models.CASCADE, null=True, related_name="recoveries")
    secret_sha256 = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey("shops.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"recovery {self.pk}"


class Tries(models.Model):
    """How often something was tried since a moment: kept here, so that all workers count together."""

    key = models.CharField(max_length=64, unique=True, help_text="Keyed digest of what is counted, and for whom.")
    began_at = models.DateTimeField()
    count = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.count} since {self.began_at}"
