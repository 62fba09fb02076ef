"""Six digits with which a person takes over a shared tablet: quick for gloved hands, good for nothing else.

A PIN has a million values, so what protects it is the count of tries. Each try is counted before it is looked at,
so that tries sent together are not let through together: five for a person on a tablet, fifteen on all tablets
together. The person's full sign-in starts both anew.
"""

from __future__ import annotations

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from calc.refusal import Refusal
from shops import trail
from shops.access import ScopedQuerySet, everywhere
from shops.keys import Pin, PinTries, Tablet
from shops.models import Person
from shops.refusals import Forbidden, forbidden, wrong

DIGITS = 6
TRIES = 5
TRIES_ON_ALL = 15
_FEWEST_DIFFERENT = 3
_COUNTING = "0123456789" * 2


def check(pin: str) -> None:
    """Raise Refusal unless `pin` is six digits that somebody would not try first."""
    if len(pin) != DIGITS or not (pin.isascii() and pin.isdigit()):
        raise wrong("pin", "not_a_pin", _("A PIN has {digits} digits and nothing else.").format(digits=DIGITS))
    runs = (_COUNTING, _COUNTING[::-1])
    repeated = pin[:3] == pin[3:] or pin[:2] * 3 == pin
    in_pairs = all(pin[at] == pin[at + 1] for at in range(0, DIGITS, 2))
    if len(set(pin)) < _FEWEST_DIFFERENT or repeated or in_pairs or any(pin in run for run in runs):
        raise wrong("pin", "easy_pin", _("This is among the first that anybody would try: take less regular digits."))


@transaction.atomic
def give(actor: trail.Actor, pin: str) -> Pin:
    """Give the actor a PIN, a new one where there is one; counted tries begin anew."""
    check(pin)
    held, _ = everywhere(Pin, why="one's own").update_or_create(
        person=actor.person, defaults={"hash": make_password(_mixed(actor.person, pin)), "wrong": 0,
                                       "set_at": timezone.now()},
    )  # fmt: skip
    everywhere(PinTries, why="one's own").filter(person=actor.person).delete()
    trail.record(actor, "set PIN", held, None, None)
    return held


@transaction.atomic
def take_away(actor: trail.Actor, person: Person) -> None:
    """Take away a person's PIN; nothing happens where there is none."""
    held = everywhere(Pin, why="the caller holds the person").filter(person=person).first()
    if held is not None:
        trail.record(actor, "remove PIN", held, None, None)
        held.delete()


def holders(tablet: Tablet) -> list[Person]:
    """Return who can take over the tablet: the people of its shop who have a PIN, by name."""
    people = everywhere(Person, why="the tablet names who may take it over")
    return list(people.filter(shop_id=tablet.shop_id, is_active=True, pin__isnull=False).order_by("name", "id"))


def hand_over(tablet: Tablet, person_id: int, pin: str, address: str | None) -> Person:
    """Return the person of the tablet's shop whose PIN this is.

    Raises Refusal for a wrong PIN, in the same words and as slowly where there is no such person, and Forbidden
    once it was wrong too often.
    """
    held = (
        everywhere(Pin, why="the tablet's shop is known")
        .filter(person_id=person_id, person__shop_id=tablet.shop_id, person__is_active=True)
        .select_related("person__shop", "person__business")
        .first()
    )
    if held is None:
        make_password(pin)
        raise _wrong_pin()
    if not _take_a_try(held, tablet):
        raise _locked()
    if not check_password(_mixed(held.person, pin), held.hash):
        if _is_locked(held, tablet):
            after = {"person": held.person_id, "tablet": tablet.pk}
            trail.observe(held.person, "lock PIN", tablet, address, after)
            raise _locked()
        raise _wrong_pin()
    with transaction.atomic():
        _tries(held, tablet).update(wrong=0)
        everywhere(Pin, why="the row in hand").filter(pk=held.pk, wrong__gt=0).update(wrong=F("wrong") - 1)
        trail.record(trail.Actor(held.person, address), "change hands", tablet, None, {"by": "PIN"})
    return held.person


def let_try_again(person: Person, tablet_id: int | None) -> None:
    """Start the counts of a person anew, on the tablet in hand only: a full sign-in has shown who it is."""
    everywhere(Pin, why="one's own").filter(person=person, wrong__gt=0).update(wrong=0)
    if tablet_id is not None:
        everywhere(PinTries, why="one's own").filter(person=person, tablet_id=tablet_id).update(wrong=0)


def _mixed(person: Person, pin: str) -> str:
    # A million PINs are soon tried against a stolen table: without the installation's secret they are no use.
    return salted_hmac("shops.pins", f"{person.pk}:{pin}", algorithm="sha256").hexdigest()


def _tries(held: Pin, tablet: Tablet) -> ScopedQuerySet[PinTries]:
    return everywhere(PinTries, why="the row in hand").filter(person_id=held.person_id, tablet=tablet)


def _take_a_try(held: Pin, tablet: Tablet) -> bool:
    everywhere(PinTries, why="the row in hand").get_or_create(person_id=held.person_id, tablet=tablet)
    if not _tries(held, tablet).filter(wrong__lt=TRIES).update(wrong=F("wrong") + 1):
        return False
    pin = everywhere(Pin, why="the row in hand").filter(pk=held.pk, wrong__lt=TRIES_ON_ALL)
    return bool(pin.update(wrong=F("wrong") + 1))


def _is_locked(held: Pin, tablet: Tablet) -> bool:
    on_all = everywhere(Pin, why="the row in hand").filter(pk=held.pk, wrong__gte=TRIES_ON_ALL)
    return _tries(held, tablet).filter(wrong__gte=TRIES).exists() or on_all.exists()


def _wrong_pin() -> Refusal:
    text = _("That is not this person's PIN. After {tries} wrong ones this tablet asks for the password.").format(
        tries=TRIES
    )
    return wrong("pin", "wrong_pin", text)


def _locked() -> Forbidden:
    return forbidden("pin_locked", _("Too many wrong PINs were typed for this person: sign in with the password."))
