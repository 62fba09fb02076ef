"""Cautions read and parts of the job answered for."""

from __future__ import annotations

from django.db import transaction

from calc.words import mark, say
from setups import blockers, cautions
from setups.models import CautionRead, JobCard, SignOff
from setups.verbs.guard import hold
from shops import trail
from shops.refusals import blocked, wrong
from shops.trail import Actor

STATEMENTS = {
    SignOff.Part.WORK: mark(
        "I did this work, or it was done under my eyes, by the maker's manual; every value written on this card "
        "is what was read, set or tightened.",
    ),
    SignOff.Part.HAND_OVER: mark(
        "I handed the work over and explained it: what was changed, what to look for on the first ride, and when "
        "to come back.",
    ),
}


@transaction.atomic
def read_caution(actor: Actor, card: JobCard, key: str) -> CautionRead:
    """Note that the actor has read a caution; reading it again changes nothing."""
    hold(card)
    if key not in {caution.key for caution in cautions.applying(card)}:
        raise wrong("key", "no_such_caution", say("This card has no such caution."), key)
    found = card.cautions_read.filter(key=key).first()
    if found is not None:
        return found
    read = CautionRead.objects.create(card=card, key=key, read_by=actor.person)
    trail.record(actor, "read caution", card, None, {"caution": key})
    return read


@transaction.atomic
def sign_off(actor: Actor, card: JobCard, part: str) -> SignOff:
    """Let the actor answer for a part of the job, with its statement. Once given it stays."""
    hold(card)
    if card.sign_offs.filter(part=part).exists():
        raise blocked("signed_already", say("This part of the job is signed off already."), "part")
    if part == SignOff.Part.WORK and (waits := blockers.work_waits(card)) is not None:
        raise blocked("not_approved", waits["text"], "part")
    signed = SignOff.objects.create(
        card=card, part=part, statement=STATEMENTS[SignOff.Part(part)], by=actor.person
    )
    trail.record(actor, "sign off", card, None, {"part": part})
    return signed
