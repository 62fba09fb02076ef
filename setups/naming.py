"""Reasons that stay for ever, in the trail and the chain, name no customer: checked before they are kept."""

from __future__ import annotations

import re
from collections.abc import Iterator

from django.utils.translation import gettext as _

from setups.models import Customer, JobCard
from shops.refusals import wrong

SHORTEST_NAME = 3
_TITLES = "mr|mrs|ms|miss|dr|herr|herrn|frau"


def require_nobody_named(card: JobCard, text: str, field: str) -> None:
    """Refuse a text that holds the card's customer's or rider's name, telephone, e-mail, plate or frame number.

    A surname can be an ordinary word of the trade, so a single one counts only behind a title. Raises Refusal.
    """
    said = text.lower()
    names = _names(card.customer)
    full = [name for name in names if " " in name]
    if any(_whole(re.escape(sign), said) for sign in (*full, *_signs(card))) or any(
        _whole(rf"(?:{_TITLES})\.?\s+{re.escape(word)}", said) for name in names for word in name.split()
    ):
        raise wrong(field, "personal", _("This names the customer, and it is kept for ever: say it without the name."))


def names_customer(customer: Customer, text: str) -> bool:
    """Tell whether a text holds any word of the customer's or a rider's name, or the telephone or e-mail."""
    said = text.lower()
    words = {word for name in _names(customer) for word in name.split() if len(word) >= SHORTEST_NAME}
    return any(sign.lower() in said for sign in {*words, customer.phone, customer.email} - {""})


def _names(customer: Customer) -> list[str]:
    return [customer.name.lower(), *(rider.name.lower() for rider in customer.riders.all())]


def _signs(card: JobCard) -> Iterator[str]:
    found = [card.customer.phone, card.customer.email]
    if card.bike is not None:
        found += [card.bike.plate, card.bike.frame_number]
    yield from (sign.lower() for sign in found if len(sign) >= SHORTEST_NAME)


def _whole(pattern: str, said: str) -> bool:
    return re.search(rf"(?<!\w){pattern}(?!\w)", said) is not None
