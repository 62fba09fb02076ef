"""A second factor beside the password: six digits from the person's own device, new every thirty seconds.

The codes are RFC 6238's (SHA-1, six digits, thirty seconds), computed by django-otp; a code of the step before or
after is taken too, for clocks that differ. No code is taken twice, whichever worker is asked. Ten recovery codes of
80 random bits stand in for a lost device, each once.
"""

from __future__ import annotations

import base64
import io
import secrets
import time
from datetime import timedelta
from urllib.parse import quote, urlencode

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _
from django_otp.oath import TOTP  # type: ignore[import-untyped]

from shops import trail
from shops.access import ScopedQuerySet, everywhere
from shops.keys import RecoveryCode, SecondFactor
from shops.models import Person
from shops.refusals import blocked, wrong
from shops.tokens import digest

DIGITS, STEP_S = 6, 30
CODES = 10
TRIES, LOCKED_FOR = 5, timedelta(minutes=15)
_KEY_BYTES, _CODE_BYTES = 20, 10
_ISSUER = "Coilbook"


class TooManyCodes(Exception):
    """Wrong codes were typed too often: none is looked at for a while."""


def is_on(person: Person) -> bool:
    """Tell whether the person signs in with a second factor."""
    return _of(person).filter(on_since__isnull=False).exists()


def codes_left(person: Person) -> int:
    """Return how many recovery codes the person has not used."""
    return everywhere(RecoveryCode, why="one's own").filter(person=person, used_at=None).count()


@transaction.atomic
def begin(actor: trail.Actor) -> SecondFactor:
    """Make a key for the actor's device; it counts once a code has confirmed it. Blocked where one is on."""
    if is_on(actor.person):
        raise blocked("second_factor_on", _("There is a second factor already: turn that one off first."))
    _of(actor.person).delete()
    return SecondFactor.objects.create(person=actor.person, key=secrets.token_hex(_KEY_BYTES))


def typed_key(factor: SecondFactor) -> str:
    """Return the key as a person can type it into the device (base32, in groups of four)."""
    text = base64.b32encode(bytes.fromhex(factor.key)).decode()
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


def address(factor: SecondFactor) -> str:
    """Return what the QR code says: the key and how codes are made from it, in the form that code apps read."""
    label = quote(f"{_ISSUER}:{factor.person.email}")
    made = {"secret": typed_key(factor).replace(" ", ""), "issuer": _ISSUER, "digits": DIGITS, "period": STEP_S}
    return f"otpauth://totp/{label}?{urlencode(made)}"


def drawn(factor: SecondFactor) -> str:
    """Return the QR code (ISO/IEC 18004) as SVG, dark on its own light ground so that it reads in the dark too."""
    import segno  # noqa: PLC0415  # only who turns a second factor on needs it

    file = io.BytesIO()
    segno.make(address(factor), error="m").save(
        file, kind="svg", xmldecl=False, omitsize=True, border=4, dark="#000", light="#fff", title=_("QR code")
    )
    return file.getvalue().decode()


@transaction.atomic
def turn_on(actor: trail.Actor, code: str) -> list[str]:
    """Turn the begun second factor on if `code` is its own, end other sessions, return the recovery codes."""
    if is_on(actor.person) or not _of(actor.person).exists():
        raise blocked("second_factor_not_begun", _("Begin again: there is no key that waits for its first code."))
    if not _takes_totp(actor.person, _plain(code)):
        raise wrong("second_factor", "wrong_code", _("That is not the device's code: is its clock right?"))
    _of(actor.person).update(on_since=timezone.now())
    person = actor.person
    person.sessions_ended += 1
    person.save(update_fields=["sessions_ended"])
    trail.record(actor, "turn second factor on", person, None, None)
    return _new_codes(person)


@transaction.atomic
def renew_codes(actor: trail.Actor) -> list[str]:
    """Replace all recovery codes by new ones, and return those."""
    if not is_on(actor.person):
        raise blocked("second_factor_off", _("There is no second factor, so there is nothing to recover."))
    trail.record(actor, "renew recovery codes", actor.person, None, None)
    return _new_codes(actor.person)


@transaction.atomic
def turn_off(actor: trail.Actor, person: Person) -> None:
    """Turn a person's second factor off: one's own, or for somebody whose device is lost."""
    if not _of(person).delete()[0]:
        return
    everywhere(RecoveryCode, why="the caller holds the person").filter(person=person).delete()
    trail.record(actor, "turn second factor off", person, None, None)


def is_right(person: Person, code: str, network_address: str | None) -> bool:
    """Tell whether `code` is the person's code of the moment or an unused recovery code, and use it up.

    Each try is counted before it is looked at. Raises TooManyCodes after five wrong ones in a quarter of an hour.
    """
    now, mine = timezone.now(), _of(person)
    mine.filter(wrong_at__lte=now - LOCKED_FOR).update(wrong=0)
    if not mine.filter(wrong__lt=TRIES).update(wrong=F("wrong") + 1, wrong_at=now):
        raise TooManyCodes
    plain = _plain(code)
    right = _takes_totp(person, plain) if len(plain) == DIGITS else _takes_recovery(person, plain, network_address)
    if right:
        mine.update(wrong=0)
    return right


def _of(person: Person) -> ScopedQuerySet[SecondFactor]:
    return everywhere(SecondFactor, why="one person's own").filter(person=person)


def _plain(code: str) -> str:
    return code.replace(" ", "").replace("-", "").upper()


def _takes_totp(person: Person, code: str) -> bool:
    factor = _of(person).first()
    if factor is None or not (len(code) == DIGITS and code.isascii() and code.isdigit()):
        return False
    codes = TOTP(bytes.fromhex(factor.key), step=STEP_S, digits=DIGITS)
    codes.time = time.time()
    if not codes.verify(int(code), tolerance=1, min_t=factor.last_step + 1):
        return False
    # Two workers may see the same code at once: the row lets one of them through.
    return bool(_of(person).filter(last_step__lt=codes.t()).update(last_step=codes.t()))


def _takes_recovery(person: Person, code: str, network_address: str | None) -> bool:
    unused = everywhere(RecoveryCode, why="one person's own").filter(
        person=person, code_sha256=digest(code), used_at=None
    )
    with transaction.atomic():
        if not unused.update(used_at=timezone.now()):
            return False
        trail.record(trail.Actor(person, network_address), "use recovery code", person, None, None)
    return True


def _new_codes(person: Person) -> list[str]:
    everywhere(RecoveryCode, why="one person's own").filter(person=person).delete()
    made = [base64.b32encode(secrets.token_bytes(_CODE_BYTES)).decode() for _ in range(CODES)]
    for code in made:
        RecoveryCode.objects.create(person=person, code_sha256=digest(code))
    return ["-".join(code[at : at + 4] for at in range(0, len(code), 4)) for code in made]
