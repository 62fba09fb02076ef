"""What is kept from technicians once a bike has changed owner: who had it before.

A card is a former owner's when its bike changed owner after the card was opened and the card's customer is not
the owner of today. Whoever buys the bike back finds the own cards again. Managers and owners of the business
read everything. A technician, of whatever shop, reads the technical record and goes on with it: settings, sags,
torques, parts, photos, who in the workshop did what. Kept from a technician, wherever a former owner could show:

- the card: customer, rider, complaint, what the rider was told, notes, the service note, loads with the rider
  (a rider's mass in other words), the estimate, the links, the captions of photos, the reasons of overrides;
- lists: the card is listed without the customer's name, and is not found by searching for it;
- the computed sides: results and pictures give a load back in one step, so verdicts alone are told;
  springs cannot be chosen for a rider whom one may not see;
- the record: the personal values and free texts are withheld, and named as withheld; the digests stay;
- the stored PDF is the former owner's: it is refused, as are new customer links to it and amendments of it;
- the bike's notes: they are put aside with the change (`OwnerChange.notes`) and only what is typed anew stays;
- the trail never held any of it.

What a sealed document says of staff, springs and numbers stays readable: that is the bike's history.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import Exists, F, OuterRef, Q

from calc.words import say
from setups.bike_models import OwnerChange
from setups.models import JobCard
from shops.access import everywhere
from shops.models import Person
from shops.refusals import Forbidden, forbidden

WITHHELD = ("complaint", "explanation", "internal_notes", "next_service_note")
"""The free texts of a card's face that may name or describe its customer."""
PUBLIC_TEXTS = ("complaint", "explanation")
INTERNAL = ("internal_notes", "customer", "rider", "results", "estimate")
"""The internal part's own, with the force curves, whose height at a sag is the load."""
RIDERS_LOAD = "axle_rider_kg"
_WHY = "whether a card that the caller holds, or asks for by scope, is a former owner's"


def _a_former_owners() -> Q:
    since = everywhere(OwnerChange, why=_WHY).filter(bike=OuterRef("bike"), at__gt=OuterRef("opened_at"))
    nobodys = Q(bike__owner=None)
    return Q(Exists(since)) & (nobodys | ~Q(customer=F("bike__owner")))


def mark(cards: Any) -> Any:
    """Return the query of cards with each marked: `former` is True where it was a former owner's."""
    return cards.annotate(former=_a_former_owners())


def hide_from(cards: Any, person: Person) -> Any:
    """Return the query of cards with each marked: `hidden` is True where `person` may not know whose it was."""
    return cards.annotate(hidden=_a_former_owners()) if is_kept_from(person) else cards


def not_hidden(person: Person) -> Q:
    """Return the condition under which a card's customer may be told to `person`."""
    return ~_a_former_owners() if is_kept_from(person) else Q()


def is_former(card: JobCard) -> bool:
    """Return whether `card` is a former owner's."""
    if card.bike is None or card.customer_id == card.bike.owner_id:
        return False
    changes = everywhere(OwnerChange, why=_WHY)
    return changes.filter(bike=card.bike_id, at__gt=card.opened_at).exists()


def hidden_from(card: JobCard, person: Person) -> bool:
    """Return whether `person` may not know whose `card` was."""
    return is_kept_from(person) and is_former(card)


def refuse(card: JobCard, person: Person, what: str) -> None:
    """Refuse `what` ("The PDF") of a former owner's card to a technician."""
    if hidden_from(card, person):
        raise a_former_owners(what)


def a_former_owners(what: str) -> Forbidden:
    """Return the refusal of `what`."""
    text = say("{what} belongs to a former owner of this bike: ask a manager.", what=what)
    return forbidden("former_owner", text)


def without_person(shown: Mapping[str, Any]) -> dict[str, Any]:
    """Return the whole card without what is the former owner's."""
    nothing = {stage: dict.fromkeys(ends) for stage, ends in shown["loads"].items()}
    return {
        **shown,
        **dict.fromkeys(WITHHELD, ""),
        "customer": None,
        "rider": None,
        "loads": nothing,
        "readings": [one for one in shown["readings"] if one["quantity"] != RIDERS_LOAD],
        "links": [],
        "overrides": [{**one, "reason": ""} for one in shown["overrides"]],
        "estimate": None,
        "photos": [{**one, "caption": ""} for one in shown["photos"]],
        "cases": [],
        "former_owner": True,
    }


def sides_without_person(stages: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    """Return the computed sides with their verdicts alone."""
    untold = say("Computed results are not shown: they would tell what a former owner weighs.")
    nothing = {"result": None, "picture": None, "problems": [], "missing": [untold]}
    told = {stage: {end: {**side, **nothing} for end, side in ends.items()} for stage, ends in stages.items()}
    return {**told, "preload_no_cure": {"front": None, "rear": None}}


def record_without_person(record: Mapping[str, Any]) -> dict[str, Any]:
    """Return a sealed record with the former owner's values withheld; `withheld` names their places."""
    public, internal = dict(record["public"]), dict(record["internal"])
    public |= dict.fromkeys(PUBLIC_TEXTS, "")
    public["next_service"] = {**public["next_service"], "note": ""}
    internal |= dict.fromkeys(INTERNAL)
    public["overrides"] = [{**one, "reason": ""} for one in public.get("overrides", [])]
    public["photos"] = [{**one, "caption": ""} for one in public.get("photos", [])]
    inside = [f"internal.{key}" for key in INTERNAL]
    places = [*PUBLIC_TEXTS, "photos.caption", "next_service.note", "overrides.reason", *inside]
    return {
        **record,
        "public": public,
        "internal": internal,
        "personal": {},
        "texts": {},
        "amendments": [_amendment(one) for one in record["amendments"]],
        "withheld": [*places, "personal", "amendments.why"],
    }


def _amendment(one: Mapping[str, Any]) -> dict[str, Any]:
    """Return an amendment without its reason, and without the texts that it put in a withheld one's place."""
    told = {**one, "personal": {}}
    for part in ("public", "internal"):
        change = one[part].get("amendment")
        if change:
            kept = {**change, "why": ""}
            if change["path"] in (*PUBLIC_TEXTS, "next_service.note", "internal_notes"):
                kept |= {"old": "", "new": ""}
            told[part] = {**one[part], "amendment": kept}
    return told


def is_kept_from(person: Person) -> bool:
    """Return whether former owners are kept from `person` at all."""
    return person.role == Person.Role.TECHNICIAN
