"""What can be done to people, tools, springs, shops and units: one function each checks, saves and audits."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any
from zoneinfo import available_timezones

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError
from django.utils import timezone
from django.utils.translation import gettext as _

from calc.bands import Band
from calc.checks import Findings, check_spring
from calc.refusal import Problem, Refusal
from calc.springs import first_and_last
from calc.units import FACTORS
from calc.words import mark, say
from shops import leaving, money, trail, versions
from shops.access import everywhere, rows_to_change
from shops.models import Business, Person, Shop, StockSpring, Tool, default_units
from shops.refusals import blocked, forbidden, wrong
from shops.trail import Actor

MEASURES = {
    "wire_mm": Band(mark("the wire diameter"), "mm", 0, 40, open_low=True),
    "outer_diameter_mm": Band(mark("the outer diameter"), "mm", 0, 200, open_low=True),
    "inner_diameter_mm": Band(mark("the inner diameter"), "mm", 0, 200, open_low=True),
    "free_length_mm": Band(mark("the free length"), "mm", 0, 1000, open_low=True),
    "displaced_cm3": Band(mark("the volume the spring displaces"), "cm³", 0, 1000, open_low=True),
    "mass_g": Band(mark("the mass"), "g", 0, 10_000, open_low=True),
}
"""What of a spring is measured, with the values that its line in the list accepts."""
_CODE = re.compile(r"[\w-]+")
CYCLES = Band(mark("the cycles since calibration"), "", 0, 1_000_000)
_PLACES = {StockSpring.End.FRONT: "leg_spring", StockSpring.End.REAR: "shock_spring"}


@transaction.atomic
def found_business(*, name: str, shop: Mapping[str, Any], owner: Mapping[str, Any]) -> Person:
    """Found a business with its first shop (name, code, …) and its owner (name, email, password)."""
    _check_time_zone(shop.get("time_zone", "UTC"))
    _check_code(shop["code"])
    business = Business.objects.create(name=name)
    first = Shop.objects.create(business=business, **shop)
    person = Person(business=business, shop=first, name=owner["name"], role=Person.Role.OWNER)
    person.email = free_email(owner["email"])
    give_password(person, owner["password"])
    person.save()
    trail.record(Actor(person), "found business", first, None, {"name": name})
    return person


@transaction.atomic
def choose_currency(actor: Actor, currency: str) -> Business:
    """Set the currency that the business's estimates are begun in, by its code in ISO 4217; only an owner may.

    No amount is converted or read anew: an estimate that has lines keeps the currency in which they were written.
    """
    if actor.person.role != Person.Role.OWNER:
        raise forbidden("owner_only", _("Only an owner chooses the currency."))
    if not money.is_code(currency):
        text = _("{currency} is no currency's code: write three capital letters, as in EUR.").format(currency=currency)
        raise wrong("currency", "unknown_currency", text, currency)
    business = Business.objects.select_for_update().get(pk=actor.person.business_id)
    if business.currency != currency:
        before, business.currency = business.currency, currency
        business.save(update_fields=["currency"])
        trail.record(actor, "choose currency", actor.person.shop, {"currency": before}, {"currency": currency})
    return business


@transaction.atomic
def open_shop(actor: Actor, **values: Any) -> Shop:
    """Open another branch of the actor's business; only an owner may."""
    if actor.person.role != Person.Role.OWNER:
        raise forbidden("owner_only", _("Only an owner opens a shop."))
    _check_time_zone(values.get("time_zone", "UTC"))
    _check_code(values["code"])
    if "units" in values:
        _check_units(values["units"], "units.")
        values["units"] = {**default_units(), **values["units"]}
    shop = Shop(business_id=actor.person.business_id, **values)
    _save_unique(shop, "code", _("Another shop of this business has the code {code}.").format(code=shop.code))
    trail.record(actor, "open shop", shop, None, values)
    return shop


@transaction.atomic
def change_shop(actor: Actor, shop: Shop, version: int, values: Mapping[str, Any]) -> Shop:
    """Change a shop's name, address, phone, time zone, paper or language."""
    _check_time_zone(values.get("time_zone", shop.time_zone))
    if "units" in values:
        _check_units(values["units"], "units.")
        values = {**values, "units": {**default_units(), **shop.units, **values["units"]}}
    clash = _("Another shop of this business has this code.")
    return _change(actor, "change shop", shop, version, values, unique=("code", clash))


@transaction.atomic
def add_person(actor: Actor, *, password: str, **values: Any) -> Person:
    """Let somebody new sign in; `values` are email, name, role, shop. A manager adds to the own shop only."""
    person = Person(business_id=actor.person.business_id, **values)
    may_give_role(actor, person.role)
    require_own_shop(actor, person.shop)
    person.email = free_email(person.email)
    give_password(person, password)
    person.save()
    trail.record(actor, "add person", person, None, values)
    return person


@transaction.atomic
def change_person(actor: Actor, person: Person, version: int, values: Mapping[str, Any]) -> Person:
    """Change a person's name, e-mail, role, shop, password, or whether they may sign in at all."""
    wanted = dict(values)
    may_give_role(actor, person.role)
    if "role" in wanted:
        may_give_role(actor, wanted["role"])
    if "shop" in wanted:
        require_own_shop(actor, wanted["shop"])
    if "email" in wanted:
        wanted["email"] = free_email(wanted["email"], but=person)
    _keep_an_owner(person, wanted)
    password = wanted.pop("password", None)
    before, after = trail.changes(person, wanted)
    if not after and password is None:
        versions.require(person, version)
        return person
    for name, value in after.items():
        setattr(person, name, value)
    fields = list(after)
    if password is not None:
        give_password(person, password)
        fields.append("password")
        after["new_password"] = True
    if after.get("is_active") is False:
        fields.append("sessions_ended")
        person.sessions_ended += 1
        leaving.shut_out(actor, person)
    versions.save(person, version, fields)
    if password is not None or "email" in after:
        leaving.close_recoveries(person)
    trail.record(actor, "change person", person, before, after)
    return person


@transaction.atomic
def change_own_password(actor: Actor, *, current: str, new: str) -> Person:
    """Give the actor a new password; `current` must be the one in force."""
    person = actor.person
    if not person.check_password(current):
        raise wrong("current", "wrong_password", _("The current password is not right."))
    give_password(person, new, field="new")
    versions.save(person, person.version, ["password"])
    leaving.close_recoveries(person)
    trail.record(actor, "change own password", person, None, None)
    return person


@transaction.atomic
def give_first_password(person: Person, password: str) -> None:
    """Give a password to somebody who came with a business from another installation; done at the machine itself."""
    give_password(person, password)
    versions.save(person, person.version, ["password"])
    trail.record(Actor(person), "give first password", person, None, {"new_password": True})


@transaction.atomic
def choose_units(actor: Actor, choice: Mapping[str, str]) -> Person:
    """Set the units that the actor sees, one per quantity; quantities left out stay."""
    _check_units(choice)
    person = actor.person
    before = dict(person.units)
    person.units = {**default_units(), **person.units, **choice}
    versions.save(person, person.version, ["units"])
    trail.record(actor, "choose units", person, {"units": before}, {"units": person.units})
    return person


def _check_units(choice: Mapping[str, str], path: str = "") -> None:
    problems = []
    for quantity, unit in choice.items():
        known = FACTORS.get(quantity)
        if known is None:
            text = _("{quantity} is no quantity shown here.").format(quantity=quantity)
            problems.append(Problem(f"{path}{quantity}", "unknown_quantity", text, unit))
        elif unit not in known:
            text = _("{unit} is no unit for {quantity}: choose one of {units}.").format(
                unit=unit, quantity=quantity, units=", ".join(known)
            )
            problems.append(Problem(f"{path}{quantity}", "unknown_unit", text, unit))
    if problems:
        raise Refusal(*problems)


@transaction.atomic
def choose_language(actor: Actor, code: str) -> Person:
    """Set the language that the actor is spoken to in, one of the settings' LANGUAGES; blank stands for the shop's."""
    person = actor.person
    if person.language != code:
        before, person.language = person.language, code
        versions.save(person, person.version, ["language"])
        trail.record(actor, "choose language", person, {"language": before}, {"language": code})
    return person


@transaction.atomic
def add_tool(actor: Actor, **values: Any) -> Tool:
    """Enter a workshop tool with its serial number and calibration."""
    tool = Tool(**values)
    require_own_shop(actor, tool.shop)
    _check_calibration(tool)
    clash = _("This shop already has a tool with the serial number {serial}.").format(serial=tool.serial)
    _save_unique(tool, "serial", clash)
    trail.record(actor, "add tool", tool, None, values)
    return tool


@transaction.atomic
def change_tool(actor: Actor, tool: Tool, version: int, values: Mapping[str, Any]) -> Tool:
    """Change a tool's data: a new calibration, a certificate, taken out of use.

    Each tightening counts a wrench's cycles up; a newer calibration starts them afresh, and a manager may set
    them, for a wrench that was used elsewhere too.
    """
    _check_calibration(tool, values)
    wanted = dict(values)
    cycles = wanted.get("cycles_since_calibration", tool.cycles_since_calibration)
    if cycles != tool.cycles_since_calibration:
        _check_cycles(actor, cycles)
    elif wanted.get("calibrated_on") and wanted["calibrated_on"] > (tool.calibrated_on or date.min):
        wanted["cycles_since_calibration"] = 0
    clash = _("This shop already has a tool with this serial number.")
    return _change(actor, "change tool", tool, version, wanted, unique=("serial", clash))


@transaction.atomic
def add_spring(actor: Actor, **values: Any) -> StockSpring:
    """Put a spring on the shop's list."""
    spring = StockSpring(**values)
    require_own_shop(actor, spring.shop)
    check_stock_spring(spring, {})
    spring.sort_rate_n_per_mm = sort_rate(spring.curve)
    _save_unique(spring, "code", _("The list already has {code} with this batch.").format(code=spring.code))
    trail.record(actor, "add spring", spring, None, values)
    return spring


@transaction.atomic
def change_spring(actor: Actor, spring: StockSpring, version: int, values: Mapping[str, Any]) -> StockSpring:
    """Change a line of the spring list, its stock included."""
    wanted = dict(values)
    check_stock_spring(spring, wanted)
    wanted["sort_rate_n_per_mm"] = sort_rate(_as_wanted(spring, wanted).curve)
    clash = _("The list already has this code with this batch.")
    return _change(actor, "change spring", spring, version, wanted, unique=("code", clash))


@transaction.atomic
def test_spring(actor: Actor, spring: StockSpring, readings: Mapping[str, Any]) -> StockSpring:
    """Keep tester readings (`deflection_mm`, `force_n`) of a spring of the line beside its stamp.

    Whoever stands at the tester may: it is a reading, and from then on what cards reckon with.
    """
    return change_spring(actor, spring, spring.version, {"tested": dict(readings)})


@transaction.atomic
def remove_spring(actor: Actor, spring: StockSpring, version: int) -> None:
    """Take a spring off the list; one that a card names stays."""
    versions.require(spring, version)
    names = ("end", "code", "label", "batch", "spring", "material", *MEASURES, "stock")
    trail.record(actor, "remove spring", spring, {name: getattr(spring, name) for name in names}, None)
    try:
        with transaction.atomic():
            versions.remove(spring, version)
    except ProtectedError:
        text = _("{code} is named on a card, so it stays on the list: set its stock to 0 instead.").format(
            code=spring.code
        )
        raise blocked("in_use", text) from None


def sort_rate(spring: Mapping[str, Any]) -> float:
    """Return what the list is ordered by, in N/mm: the mean of a spring's rates at first and nearly solid."""
    return sum(first_and_last(spring)) / 2


def _change(
    actor: Actor, verb: str, row: Any, version: int, values: Mapping[str, Any], *, unique: tuple[str, str]
) -> Any:
    field, clash = unique
    before, after = trail.changes(row, values)
    if not after:
        versions.require(row, version)
        return row
    for name, value in after.items():
        setattr(row, name, value)
    try:
        with transaction.atomic():
            versions.save(row, version, after)
    except IntegrityError:
        raise wrong(field, "taken", clash, getattr(row, field)) from None
    trail.record(actor, verb, row, before, after)
    return row


def _save_unique(row: Any, field: str, clash: str) -> None:
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        raise wrong(field, "taken", clash, getattr(row, field)) from None


def require_own_shop(actor: Actor, shop: Shop) -> None:
    """Raise Forbidden unless the actor may change things in `shop`."""
    if not rows_to_change(Shop, actor.person).filter(pk=shop.pk).exists():
        text = _("{shop} is not your shop: only its own people change things there.").format(shop=shop.name)
        raise forbidden("other_shop", text, "shop")


def may_give_role(actor: Actor, role: str) -> None:
    """Raise Forbidden unless the actor may give somebody `role`, or change who has it."""
    if role == Person.Role.OWNER and actor.person.role != Person.Role.OWNER:
        raise forbidden("owner_only", _("Only an owner makes or changes an owner."), "role")


def _keep_an_owner(person: Person, wanted: Mapping[str, Any]) -> None:
    leaves = not wanted.get("is_active", True) or wanted.get("role", person.role) != Person.Role.OWNER
    if person.role != Person.Role.OWNER or not person.is_active or not leaves:
        return
    owners = everywhere(Person, why="the business keeps an owner").filter(
        business_id=person.business_id, role=Person.Role.OWNER, is_active=True
    )
    # Locked, so that two owners cannot leave at the same moment.
    if not any(owner.pk != person.pk for owner in owners.select_for_update()):
        raise blocked("last_owner", _("This is the last owner; make somebody else an owner first."))


def free_email(email: str, but: Person | None = None) -> str:
    """Return the address as it is kept; Refusal if somebody (`but` the person in hand) signs in with it."""
    address = email.strip().lower()
    taken = everywhere(Person, why="an e-mail address signs in one person only").filter(email=address)
    if but is not None:
        taken = taken.exclude(pk=but.pk)
    if taken.exists():
        raise wrong("email", "taken", _("Somebody already signs in with this e-mail address."))
    return address


def give_password(person: Person, password: str, field: str = "password") -> None:
    """Set a password that holds up, unsaved; Refusal at `field` for a weak one."""
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise Refusal(*(Problem(field, "weak_password", text) for text in error.messages)) from None
    person.set_password(password)


def _check_code(code: str) -> None:
    """Refuse signs that mean something in the name of a file or in a header: card numbers begin with the code."""
    if not _CODE.fullmatch(code):
        text = _("{code!r} is no shop code: letters, digits and hyphens alone.").format(code=code)
        raise wrong("code", "not_a_code", text, code)


def _check_time_zone(name: str) -> None:
    if name not in available_timezones():
        text = _("{name} is no time zone name; write one such as Etc/UTC.").format(name=name)
        raise wrong("time_zone", "unknown_time_zone", text, name)


def latest_day() -> date:
    """Return the date that it is now where the day begins first: no shop's own calendar is ahead of it."""
    return (timezone.now() + timedelta(hours=14)).date()


def _check_calibration(tool: Tool, values: Mapping[str, Any] | None = None) -> None:
    wanted = values or {}
    calibrated = wanted.get("calibrated_on", tool.calibrated_on)
    due = wanted.get("calibration_due", tool.calibration_due)
    if calibrated and calibrated > latest_day():
        text = _("Calibrated on {calibrated} lies in the future: check the year.").format(calibrated=calibrated)
        raise wrong("calibrated_on", "in_the_future", text, calibrated.isoformat())
    if calibrated and due and due <= calibrated:
        text = _("Calibration is due on {due}, not after it was done on {calibrated}: are the dates swapped?").format(
            due=due, calibrated=calibrated
        )
        raise wrong("calibration_due", "before_calibration", text, due.isoformat())


def _as_wanted(row: StockSpring, values: Mapping[str, Any]) -> StockSpring:
    """Return a line, of no list, with the spring and the test that `row` is to have."""
    return StockSpring(spring=values.get("spring", row.spring), tested=values.get("tested", row.tested))


def _check_cycles(actor: Actor, cycles: int) -> None:
    if actor.person.role == Person.Role.TECHNICIAN:
        text = _("The cycles are counted by tightening; a manager sets them.")
        raise forbidden("manager_only", text, "cycles_since_calibration")
    findings = Findings()
    findings.value(cycles, "cycles_since_calibration", CYCLES)
    findings.raise_any()


def check_stock_spring(row: StockSpring, values: Mapping[str, Any]) -> None:
    """Refuse a line of the spring list that cannot be: `row` with the fields `values` in place of its own."""
    findings = Findings()
    place = _PLACES[StockSpring.End(values.get("end", row.end))]
    check_spring(findings, values.get("spring", row.spring), "spring", place)
    if values.get("tested", row.tested) is not None and not findings.problems:
        check_spring(findings, _as_wanted(row, values).curve, "tested", place)
    read = {name: values.get(name, getattr(row, name)) for name in MEASURES}
    for name, value in read.items():
        if value is not None:
            findings.value(value, name, MEASURES[name])
    outer, inner, wire = read["outer_diameter_mm"], read["inner_diameter_mm"], read["wire_mm"]
    if outer and inner and inner >= outer:
        text = say(
            "The inner diameter, {inner:g} mm, is no less than the outer, {outer:g} mm: are they swapped?",
            inner=inner,
            outer=outer,
        )
        findings.add("inner_diameter_mm", "diameters", text, inner)
    elif outer and wire and 2 * wire >= outer:
        text = say("Wire of {wire:g} mm cannot be coiled to an outer diameter of {outer:g} mm.", wire=wire, outer=outer)
        findings.add("wire_mm", "diameters", text, wire)
    findings.raise_any()
