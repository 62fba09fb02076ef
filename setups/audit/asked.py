"""What an audit's question is narrowed by: whose rows, which shop, which days."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from shops.models import Person

LATE_DAYS = 14


@dataclass(frozen=True)
class Asked:
    """A manager's question. Days are the asker's shop's; both ends are included; None: no limit there."""

    person: Person
    shop: int | None = None
    since: date | None = None
    until: date | None = None
    days: int = LATE_DAYS
    batch: str = ""
    who: int | None = None
    kind: str = ""
    now: datetime = field(default_factory=lambda: datetime.now(ZoneInfo("UTC")))

    def within(self, moment: str, shop: str) -> dict[str, Any]:
        """Return the filter for rows with their time at the look-up `moment` and their shop at `shop`."""
        zone = ZoneInfo(self.person.shop.time_zone)
        wanted: dict[str, Any] = {}
        if self.shop is not None:
            wanted[shop] = self.shop
        if self.since is not None:
            wanted[f"{moment}__gte"] = datetime.combine(self.since, time(), zone)
        if self.until is not None:
            wanted[f"{moment}__lt"] = datetime.combine(self.until + timedelta(days=1), time(), zone)
        return wanted
