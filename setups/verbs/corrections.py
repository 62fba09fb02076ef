"""Taking what earlier cards of a model showed into account on a card, and taking that back."""

from __future__ import annotations

from django.db import transaction

from calc.words import say
from setups import learned
from setups.models import JobCard
from setups.verbs.guard import change, hold
from shops.refusals import blocked, wrong
from shops.trail import Actor


@transaction.atomic
def accept_correction(actor: Actor, card: JobCard, end: str, cards: int) -> JobCard:
    """Keep on the card what `cards` sealed cards of its model showed of `end`, for its computed sags to be corrected.

    Raises Refusal where nothing is offered, Blocked where another number of cards stands behind it by now: nobody
    accepts what he has not seen.
    """
    hold(card)
    found = learned.learned(card)[end]
    if found is None or not found.offered:
        text = say("Too few sealed cards of this model tell of the {end} yet.", end=say(end))
        raise wrong("end", "nothing_offered", text, end)
    if found.cards != cards:
        text = say(
            "By now {cards} cards of this model are sealed, not {cards2}: look at the new figures first.",
            cards=found.cards, cards2=cards,
        )
        raise blocked("learned_meanwhile", text, "cards")
    wanted = {**card.corrections, end: found.correction()}
    return change(actor, "accept correction", card, card.version, {"corrections": wanted})


@transaction.atomic
def withdraw_correction(actor: Actor, card: JobCard, end: str) -> JobCard:
    """Take an accepted correction of `end` back: sags are as computed again. Without one nothing happens."""
    hold(card)
    wanted = {key: value for key, value in card.corrections.items() if key != end}
    return change(actor, "withdraw correction", card, card.version, {"corrections": wanted})
