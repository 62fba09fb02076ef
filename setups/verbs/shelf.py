"""What a card takes from the shelf: counted when it is sealed, for only then is what was built beyond change."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from setups import measured, sums
from setups.models import JobCard
from shops import trail, versions
from shops.access import everywhere
from shops.models import StockSpring
from shops.trail import Actor

WHY = "the springs that a card already held was built with"


@dataclass(frozen=True)
class Taken:
    """A spring of the list that a card put into the bike, how many, and how many the list lacks for that."""

    spring: StockSpring
    count: int

    @property
    def short(self) -> int:
        """Return how many more were fitted than the list says were there: somebody miscounted."""
        return max(0, self.count - self.spring.stock)


def taken(card: JobCard, *, lock: bool = False) -> list[Taken]:
    """Return the springs of the card's own shop that its as-built settings name and that the bike did not bring."""
    counts = Counter(pk for end in measured.ENDS for pk in _fitted(card, end))
    if not counts:
        return []
    found = everywhere(StockSpring, why=WHY).filter(pk__in=counts, shop_id=card.shop_id).order_by("pk")
    return [Taken(spring, counts[spring.pk]) for spring in (found.select_for_update() if lock else found)]


def take_from_shelf(actor: Actor, card: JobCard) -> list[Taken]:
    """Lower the list's counts by what the card was built with, never below none; part of sealing it.

    The trail says of each spring what stood there, and how many were missing.
    """
    found = taken(card, lock=True)
    for one in found:
        spring, before = one.spring, one.spring.stock
        after = {"stock": before - one.count + one.short, "card": card, "fitted": one.count}
        short = {"short": one.short} if one.short else {}
        spring.stock = before - one.count + one.short
        versions.save(spring, spring.version, ["stock"])
        trail.record(actor, "take from shelf", spring, {"stock": before}, after | short)
    return found


def _fitted(card: JobCard, end: str) -> Iterator[int]:
    """Yield the id of a listed spring for every one that was put in at an end."""
    built, came = (sums.holders(sums.body_of(card, stage, end) or {}, end) for stage in ("built", "received"))
    for place, holder in enumerate(built):
        pk = holder.get("stock_spring") if holder.get("spring") else None
        brought = came[place].get("stock_spring") if place < len(came) else None
        if pk is not None and pk != brought:
            shocks = (measured.end_data(card, end) or {}).get("shocks", 1) if end == "rear" else 1
            yield from [pk] * int(shocks)
