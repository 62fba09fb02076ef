"""A manager overrides what keeps a card from being sealed, with a written reason that stays with the record."""

from __future__ import annotations

from django.db import transaction
from django.utils import translation

from calc.words import say
from setups import blockers
from setups.approval_models import Override
from setups.models import JobCard
from setups.naming import require_nobody_named
from setups.verbs.guard import hold
from shops import trail
from shops.models import Person
from shops.refusals import blocked, forbidden, wrong
from shops.trail import Actor

SHORTEST_REASON, LONGEST_REASON = 10, 300


@transaction.atomic
def override(actor: Actor, card: JobCard, *, code: str, about: str, reason: str) -> Override:
    """Override one thing that stands in the way of sealing `card`; it covers that very thing and nothing else.

    What may be overridden is in `blockers.OVERRIDABLE`. Raises Forbidden unless a manager or an owner does it,
    Refusal for a reason that says nothing, Blocked where nothing such stands in the way or it may never be
    overridden. A manager may override a check of the own work, where nobody else is in the shop: the record
    names both.
    """
    if actor.person.role == Person.Role.TECHNICIAN:
        raise forbidden("manager_only", say("A manager or an owner decides this."))
    why = reason.strip()
    if not SHORTEST_REASON <= len(why) <= LONGEST_REASON:
        text = say(
            "Say why, in {shortest_reason} to {longest_reason} characters: it stays with the record.",
            shortest_reason=SHORTEST_REASON, longest_reason=LONGEST_REASON,
        )
        raise wrong("reason", "no_reason", say("{text} Name no customer.", text=text))
    require_nobody_named(card, why, "reason")
    hold(card)
    found = next((one for one in blockers.blockers(card) if (one["code"], one["about"]) == (code, about)), None)
    if found is None:
        raise blocked("not_in_the_way", say(
            "This does not stand in the way any more; look at the card again.",
        ), "code")
    if not found["may_override"]:
        raise blocked("never_overridden", say("{text} This is never overridden.", text=found["text"]), "code")
    made = Override.objects.create(
        card=card, code=code, about=about, text=_for_the_record(card, code, about), reason=why, by=actor.person
    )
    trail.record(actor, "override", card, None, {"code": code, "about": about}, reason=why)
    return made


def _for_the_record(card: JobCard, code: str, about: str) -> str:
    """Return what stands in the way in the language in which the card will be sealed."""
    with translation.override(card.shop.language):
        said = {(one["code"], one["about"]): one["text"] for one in blockers.blockers(card)}
    return str(said[code, about])
