"""The chain check as a manager runs it: a shop's records a slice at a time, so that a long chain shows its progress."""

from __future__ import annotations

from typing import Any

from setups.models import SealedRecord
from setups.record.verify import verify_slice
from shops.access import everywhere
from shops.models import Shop

SLICE = 500


def check(shop: Shop, after: int) -> dict[str, Any]:
    """Verify the records of `shop` that follow number `after`, at most `SLICE`, given that those before hold.

    Answers how many were looked at, the number to go on after (None: done), the head reached, and the first record
    that fails with the reason, or None.
    """
    finding = verify_slice(shop, after, SLICE)
    records = everywhere(SealedRecord, why="the shop is already held").filter(shop=shop)
    last = after + finding.records
    more = finding.failure is None and records.filter(number__gt=last).exists()
    head = records.filter(number=last).values_list("head", flat=True).first()
    failure = finding.failure
    return {
        "checked": finding.records,
        "next": last if more else None,
        "head": head or "",
        "failure": None if failure is None else {"number": failure.number, "why": failure.why},
    }
