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

    @property
    def span(self) -> tuple[datetime | None, datetime | None]:
        """Return the moment that the days begin with, and the one before which they end."""
        zone = ZoneInfo(self.person.shop.time_zone)
        since = None if self.since is None else datetime.combine(self.since, time(), zone)
        until = None if self.until is None else datetime.combine(self.until + timedelta(days=1), time(), zone)
        return since, until

    def within(self, moment: str, shop: str) -> dict[str, Any]:
        """Return the filter for rows with their time at the look-up `moment` and their shop at `shop`."""
        wanted: dict[str, Any] = {}
        if self.shop is not None:
            wanted[shop] = self.shop
        for way, at in zip(("gte", "lt"), self.span, strict=True):
            if at is not None:
                wanted[f"{moment}__{way}"] = at
        return wanted
