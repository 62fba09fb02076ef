"""What shops' part of the API takes and answers, field by field."""

from __future__ import annotations

from datetime import date
from typing import Any, ClassVar

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from calc.tester import COLUMNS, tester
from calc.web.fields import Choice, Number, StrictSerializer, Text
from calc.web.serializers import ProblemsSerializer
from shops import calibration
from shops.access import Scoped, rows
from shops.language import choices as languages
from shops.models import Person, Shop, StockSpring, Tool
from shops.verbs import CYCLES, MEASURES
from shops.web.spring_shapes import TEST, ReadingsShape, TestAnswer, curve

ID_LIMIT = 2**63 - 1
ROWS = {
    "shop": gettext_lazy("shop"),
    "tool": gettext_lazy("tool"),
    "stock spring": gettext_lazy("stock spring"),
    "customer": gettext_lazy("customer"),
    "bike": gettext_lazy("bike"),
    "rider": gettext_lazy("rider"),
}
"""What can be named by an id, by the model's own name."""
ProblemsAnswer = ProblemsSerializer
"""The body of every refusal, whichever room answers it."""


class WholeId(serializers.Field[Any, Any, Any, Any]):
    """The id of a row of `model` in the asker's own business, parsed to the row itself.

    A foreign id and one that does not exist are refused with the same words.
    """

    def __init__(self, model: type[Scoped], **options: Any) -> None:
        """Take the model that the id belongs to."""
        self.model = model
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> Scoped:
        """Return the row."""
        if isinstance(data, bool) or not isinstance(data, int):
            raise serializers.ValidationError(_("Choose one from the list; this names none."), "not_an_id")
        row = rows(self.model, self.context["request"].user).filter(pk=data).first()
        if row is None:
            name = str(self.model._meta.verbose_name)
            text = _("There is no {row} {id} that you may see.").format(row=ROWS.get(name, name), id=data)
            raise serializers.ValidationError(text, "no_such_row")
        return row

    def to_representation(self, value: Any) -> int:
        """Return the row's id."""
        return int(value.pk)


class _WholeIdSchema(OpenApiSerializerFieldExtension):
    """Describes an id in the schema."""

    target_class = WholeId

    def map_serializer_field(self, auto_schema: Any, direction: Any) -> dict[str, Any]:
        """Return the schema of an id."""
        return {"type": "integer", "minimum": 1, "maximum": ID_LIMIT}


class Whole(serializers.IntegerField):
    """A JSON whole number that names a row; whether there is such a row is not looked up here."""

    def __init__(self, **options: Any) -> None:
        """Take what an id can be."""
        super().__init__(min_value=1, max_value=ID_LIMIT, **options)

    def to_internal_value(self, data: Any) -> int:
        """Return the number."""
        if isinstance(data, bool) or not isinstance(data, int):
            raise serializers.ValidationError(_("An id is a JSON whole number."), "not_an_id")
        return int(super().to_internal_value(data))


class Email(serializers.EmailField):
    """An e-mail address."""

    default_error_messages: ClassVar = {
        "blank": gettext_lazy("This is blank; fill it in."),
        "invalid": gettext_lazy("This is no e-mail address: it needs a name, an @ and a domain."),
        "max_length": gettext_lazy("This is too long: {max_length} characters fit at most."),
        "required": gettext_lazy("This is missing and must be given."),
    }


class Flag(serializers.BooleanField):
    """A JSON true or false; neither 1 nor "yes" is taken for one."""

    def to_internal_value(self, data: Any) -> bool:
        """Return the boolean."""
        if not isinstance(data, bool):
            raise serializers.ValidationError(_("Give true or false."), "not_a_flag")
        return data


class StrictDate(serializers.DateField):
    """A date as YYYY-MM-DD and nothing else."""

    def __init__(self, **options: Any) -> None:
        """Accept the ISO form only."""
        super().__init__(input_formats=["%Y-%m-%d"], **options)


class ChangedMeanwhileAnswer(ProblemsAnswer):
    """The body of a 412: both sides of the change."""

    theirs = serializers.JSONField(help_text="The row as it stands now.")
    yours = serializers.JSONField(help_text="What was sent.")


class BusinessBrief(serializers.Serializer[Any]):
    """The business of the signed-in person."""

    id = serializers.IntegerField()
    name = serializers.CharField()


class ShopBrief(serializers.Serializer[Any]):
    """The shop of the signed-in person."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    code = serializers.CharField()
    paper = serializers.ChoiceField(choices=Shop.Paper.choices)
    language = serializers.CharField(help_text="The code of the language of its records and of what customers read.")
    time_zone = serializers.CharField()


class TabletBrief(serializers.Serializer[Any]):
    """The enrolled tablet that asks."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    shop_name = serializers.CharField(source="shop.name")


class SessionPerson(serializers.Serializer[Any]):
    """The signed-in person, as the client needs to know them."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    email = serializers.CharField()
    role = serializers.ChoiceField(choices=Person.Role.choices)
    units = serializers.DictField(child=serializers.CharField(), help_text="Unit by quantity.")
    language = serializers.CharField(help_text="The code of the language chosen; blank for the shop's.")
    has_pin = serializers.BooleanField()
    second_factor = serializers.BooleanField(source="has_second_factor", help_text="Whether one is on.")
    second_factor_due = serializers.BooleanField(
        source="owes_second_factor", help_text="Whether this installation asks for one that is not there yet."
    )
    business = BusinessBrief()
    shop = ShopBrief()


class SessionAnswer(serializers.Serializer[Any]):
    """Who is signed in (null for nobody), and whether that counts as a full sign-in now."""

    person = SessionPerson(allow_null=True)
    full = serializers.BooleanField()
    tablet = TabletBrief(allow_null=True)
    lock_after_s = serializers.IntegerField(help_text="How long an enrolled tablet may lie unused before it locks.")
    language = serializers.CharField(help_text="The code of the language spoken: before sign-in the browser's.")


class SignInBody(StrictSerializer):
    """What somebody signs in with."""

    email = Text(max_length=254)
    password = Text(max_length=200, trim_whitespace=False)
    second_factor = Text(max_length=40, required=False, help_text="The code, of whoever has a second factor.")


class FullBody(StrictSerializer):
    """What makes a session full."""

    password = Text(max_length=200, trim_whitespace=False)
    second_factor = Text(max_length=40, required=False, help_text="The code, of whoever has a second factor.")


class CodeBody(StrictSerializer):
    """A code of the second factor."""

    second_factor = Text(max_length=40)


class SecondFactorAnswer(serializers.Serializer[Any]):
    """How one's own second factor stands."""

    on = serializers.BooleanField()
    due = serializers.BooleanField(help_text="Whether this installation asks for one.")
    codes_left = serializers.IntegerField(help_text="Recovery codes not used yet.")


class SecondFactorKeyAnswer(serializers.Serializer[Any]):
    """A key for one's device: shown until a code has confirmed it, never after."""

    picture = serializers.CharField(help_text="The QR code, as SVG.")
    key = serializers.CharField(help_text="The key, to be typed where no camera is.")


class RecoveryCodesAnswer(serializers.Serializer[Any]):
    """The recovery codes, shown this once."""

    recovery_codes = serializers.ListField(child=serializers.CharField())


class InvitationBody(StrictSerializer):
    """Somebody to invite."""

    email = Email(max_length=254)
    role = Choice(choices=Person.Role.choices)
    shop = WholeId(Shop)


class LinkSecretBody(StrictSerializer):
    """The secret of an invitation."""

    secret = Text(max_length=100)


class AcceptBody(LinkSecretBody):
    """Taking an invitation up."""

    name = Text(max_length=120)
    password = Text(max_length=200, trim_whitespace=False)


class InvitedAnswer(serializers.Serializer[Any]):
    """What an invitation offers."""

    business = serializers.CharField(source="shop.business.name")
    shop = serializers.CharField(source="shop.name")
    role = serializers.ChoiceField(choices=Person.Role.choices)
    email = serializers.CharField()
    invited_by = serializers.CharField(source="made_by.name")


class AskRecoveryBody(StrictSerializer):
    """Who forgot the password."""

    email = Text(max_length=254)


class RecoverBody(LinkSecretBody):
    """A new password."""

    password = Text(max_length=200, trim_whitespace=False)


class OnceAnswer(serializers.Serializer[Any]):
    """A link, shown this once."""

    url = serializers.CharField()
    expires_at = serializers.DateTimeField()


class PinBody(StrictSerializer):
    """A new PIN, which the password confirms."""

    password = Text(max_length=200, trim_whitespace=False)
    pin = Text(max_length=20, trim_whitespace=False)


class TakeOverBody(StrictSerializer):
    """Who takes over the tablet."""

    person = Whole()
    pin = Text(max_length=20, trim_whitespace=False)


class TabletPerson(serializers.Serializer[Any]):
    """Somebody who may take over the tablet."""

    id = serializers.IntegerField()
    name = serializers.CharField()


class TabletHereAnswer(serializers.Serializer[Any]):
    """The enrolled tablet that asks (null where it is none), and who may take it over."""

    tablet = TabletBrief(allow_null=True)
    people = TabletPerson(many=True)


class PasswordBody(StrictSerializer):
    """A change of one's own password."""

    current = Text(max_length=200, trim_whitespace=False)
    new = Text(max_length=200, trim_whitespace=False)


class UnitsBody(StrictSerializer):
    """Units to show, per quantity; those left out stay."""

    rate = Text(max_length=12, required=False)
    length = Text(max_length=12, required=False)
    mass = Text(max_length=12, required=False)
    volume = Text(max_length=12, required=False)
    pressure = Text(max_length=12, required=False)
    torque = Text(max_length=12, required=False)
    force = Text(max_length=12, required=False)


class LanguageBody(StrictSerializer):
    """The language to be spoken to in."""

    language = Choice(choices=[("", "the shop's"), *languages()], help_text="Blank: the shop's.")


class ShopBody(StrictSerializer):
    """A shop as typed."""

    name = Text(max_length=120)
    code = Text(max_length=6)
    address = Text(max_length=1000, required=False, allow_blank=True)
    phone = Text(max_length=40, required=False, allow_blank=True)
    time_zone = Text(max_length=60, required=False)
    paper = Choice(choices=Shop.Paper.choices, required=False)
    language = Choice(choices=languages(), required=False)
    units = UnitsBody(required=False)


class ShopChange(StrictSerializer):
    """A change of a shop; its code stays, for it begins the numbers of its cards."""

    name = Text(max_length=120)
    address = Text(max_length=1000, allow_blank=True)
    phone = Text(max_length=40, allow_blank=True)
    time_zone = Text(max_length=60)
    paper = Choice(choices=Shop.Paper.choices)
    language = Choice(choices=languages())
    units = UnitsBody()


class ShopAnswer(serializers.Serializer[Any]):
    """A shop."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    code = serializers.CharField()
    address = serializers.CharField()
    phone = serializers.CharField()
    time_zone = serializers.CharField()
    paper = serializers.ChoiceField(choices=Shop.Paper.choices)
    language = serializers.CharField(help_text="The code of the language of its records and of what customers read.")
    units = serializers.DictField(
        child=serializers.CharField(), help_text="In which its records are read, by quantity."
    )


class OfShop(serializers.Serializer[Any]):
    """What every row of a shop answers about it."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    shop = serializers.IntegerField(source="shop_id")
    shop_name = serializers.CharField(source="shop.name")


class PersonBody(StrictSerializer):
    """Somebody new."""

    name = Text(max_length=120)
    email = Email(max_length=254)
    role = Choice(choices=Person.Role.choices)
    shop = WholeId(Shop)
    password = Text(max_length=200, trim_whitespace=False)


class PersonChange(PersonBody):
    """A change of a person."""

    is_active = Flag()


class PersonAnswer(OfShop):
    """Somebody who works in the business."""

    name = serializers.CharField()
    email = serializers.CharField()
    role = serializers.ChoiceField(choices=Person.Role.choices)
    is_active = serializers.BooleanField()
    second_factor = serializers.SerializerMethodField()

    def get_second_factor(self, person: Person) -> bool | None:
        """Return whether a second factor is on; null for a technician, whose business it is not."""
        asker = self.context["request"].user
        return None if asker.role == Person.Role.TECHNICIAN else person.has_second_factor


class InvitationAnswer(OfShop):
    """An invitation that nobody has taken up yet."""

    email = serializers.CharField()
    role = serializers.ChoiceField(choices=Person.Role.choices)
    made_by_name = serializers.CharField(source="made_by.name")
    expires_at = serializers.DateTimeField()
    revoked_at = serializers.DateTimeField(allow_null=True)


class InvitationMadeAnswer(InvitationAnswer):
    """A new invitation with its link, shown this once."""

    url = serializers.CharField()


class TabletBody(StrictSerializer):
    """A tablet to enrol: the one that asks."""

    name = Text(max_length=60)


class TabletAnswer(OfShop):
    """An enrolled tablet."""

    name = serializers.CharField()
    enrolled_by_name = serializers.CharField(source="enrolled_by.name")
    enrolled_at = serializers.DateTimeField()
    revoked_at = serializers.DateTimeField(allow_null=True)


class ToolBody(StrictSerializer):
    """A workshop tool as typed."""

    shop = WholeId(Shop)
    kind = Choice(choices=Tool.Kind.choices)
    name = Text(max_length=120)
    serial = Text(max_length=60)
    calibrated_on = StrictDate(allow_null=True, required=False)
    calibration_due = StrictDate(allow_null=True, required=False)
    certificate = Text(max_length=120, required=False, allow_blank=True)
    in_use = Flag(required=False)


class ToolChange(StrictSerializer):
    """A change of a tool; it stays in its shop."""

    kind = Choice(choices=Tool.Kind.choices)
    name = Text(max_length=120)
    serial = Text(max_length=60)
    calibrated_on = StrictDate(allow_null=True)
    calibration_due = StrictDate(allow_null=True)
    cycles_since_calibration = Number(CYCLES, whole=True)
    certificate = Text(max_length=120, allow_blank=True)
    in_use = Flag()


class ToolAnswer(OfShop):
    """A workshop tool."""

    kind = serializers.ChoiceField(choices=Tool.Kind.choices)
    kind_label = serializers.CharField(source="get_kind_display")
    name = serializers.CharField()
    serial = serializers.CharField()
    calibrated_on = serializers.DateField(allow_null=True)
    calibration_due = serializers.DateField(allow_null=True, help_text="As the certificate says.")
    due_on = serializers.SerializerMethodField()
    cycles_since_calibration = serializers.IntegerField()
    out_of_calibration = serializers.SerializerMethodField()
    certificate = serializers.CharField()
    in_use = serializers.BooleanField()

    def get_due_on(self, tool: Tool) -> date | None:
        """Return the last day on which the calibration holds: a wrench's within 12 months at the latest."""
        return calibration.due_on(tool)

    def get_out_of_calibration(self, tool: Tool) -> bool:
        """Return whether the tool is overdue today: by its date, or a wrench by its cycles."""
        return calibration.of(tool).why_not(timezone.localdate()) is not None


def measure(name: str, **options: Any) -> Number:
    """Return the field of a measure of a spring, null where it is not known."""
    return Number(MEASURES[name], allow_null=True, **options)


class SpringChange(StrictSerializer):
    """A change of a line of the spring list; it stays in its shop and at its end."""

    code = Text(max_length=40)
    label = Text(max_length=120)  # type: ignore[assignment]  # the spring's own, over DRF's
    spring = curve()
    tested = ReadingsShape(allow_null=True)
    material = Text(max_length=40, allow_blank=True)
    wire_mm = measure("wire_mm")
    outer_diameter_mm = measure("outer_diameter_mm")
    inner_diameter_mm = measure("inner_diameter_mm")
    free_length_mm = measure("free_length_mm")
    displaced_cm3 = measure("displaced_cm3")
    mass_g = measure("mass_g")
    batch = Text(max_length=40, allow_blank=True)
    stock = serializers.IntegerField(min_value=0, max_value=9999)


class SpringBody(StrictSerializer):
    """A line of the spring list as typed."""

    shop = WholeId(Shop)
    end = Choice(choices=StockSpring.End.choices)
    code = Text(max_length=40)
    label = Text(max_length=120)  # type: ignore[assignment]  # the spring's own, over DRF's
    spring = curve()
    tested = ReadingsShape(allow_null=True, required=False)
    material = Text(max_length=40, required=False, allow_blank=True)
    wire_mm = measure("wire_mm", required=False)
    outer_diameter_mm = measure("outer_diameter_mm", required=False)
    inner_diameter_mm = measure("inner_diameter_mm", required=False)
    free_length_mm = measure("free_length_mm", required=False)
    displaced_cm3 = measure("displaced_cm3", required=False)
    mass_g = measure("mass_g", required=False)
    batch = Text(max_length=40, required=False, allow_blank=True)
    stock = serializers.IntegerField(min_value=0, max_value=9999, required=False)


class SpringAnswer(OfShop):
    """A line of the spring list."""

    end = serializers.ChoiceField(choices=StockSpring.End.choices)
    code = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]  # the spring's own, over DRF's
    spring = curve()
    tested = ReadingsShape(allow_null=True)
    test = serializers.SerializerMethodField()
    sort_rate_n_per_mm = serializers.FloatField()
    material = serializers.CharField()
    wire_mm = serializers.FloatField(allow_null=True)
    outer_diameter_mm = serializers.FloatField(allow_null=True)
    inner_diameter_mm = serializers.FloatField(allow_null=True)
    free_length_mm = serializers.FloatField(allow_null=True)
    displaced_cm3 = serializers.FloatField(allow_null=True)
    mass_g = serializers.FloatField(allow_null=True)
    batch = serializers.CharField()
    stock = serializers.IntegerField()

    @extend_schema_field(TestAnswer(allow_null=True))
    def get_test(self, spring: StockSpring) -> dict[str, Any] | None:
        """Return what the line's tester readings say; None where it was not tested."""
        if spring.tested is None:
            return None
        said = tester({**{key: spring.tested[key] for key in COLUMNS}, "stamped_n_per_mm": spring.stamped_n_per_mm})
        return {name: said[name] for name in TEST}


class TrailAnswer(serializers.Serializer[Any]):
    """One line of the audit trail."""

    id = serializers.IntegerField()
    at = serializers.DateTimeField()
    shop = serializers.IntegerField(source="shop_id", allow_null=True)
    shop_name = serializers.CharField(source="shop.name", default=None, allow_null=True)
    person = serializers.IntegerField(source="person_id", allow_null=True)
    person_name = serializers.CharField(source="person.name", default=None, allow_null=True)
    address = serializers.CharField(allow_null=True)
    verb = serializers.CharField()
    subject = serializers.CharField()
    subject_id = serializers.IntegerField()
    before = serializers.JSONField(allow_null=True)
    after = serializers.JSONField(allow_null=True)
    reason = serializers.CharField()


class SearchQuery(serializers.Serializer[Any]):
    """What a list can be narrowed by."""

    search = serializers.CharField(max_length=100, required=False, allow_blank=True)
    shop = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, required=False)


class SpringQuery(SearchQuery):
    """What the spring list can be narrowed by; without `shop` it is the own shop's."""

    end = serializers.ChoiceField(choices=StockSpring.End.choices, required=False)


class TrailQuery(serializers.Serializer[Any]):
    """What the trail can be narrowed by."""

    subject = serializers.CharField(max_length=40, required=False)
    subject_id = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, required=False)
    shop = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, required=False)
