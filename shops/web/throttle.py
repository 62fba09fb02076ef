"""Slowing down whoever tries passwords or secrets, by the address that `AddressMiddleware` found.

The counts stand in the database, so that several workers count together.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from shops import tries

_PERIODS = {"min": timedelta(minutes=1), "hour": timedelta(hours=1)}


class AddressThrottle(BaseThrottle):
    """So many requests from one address: `scope` says of what, `rate` how many, as in "30/min" or "40/hour"."""

    scope: ClassVar[str]
    rate: ClassVar[str]

    def __init__(self) -> None:
        number, _, period = self.rate.partition("/")
        self.limit, self.window, self.address = int(number), _PERIODS[period], ""

    def allow_request(self, request: Request, view: Any) -> bool:
        """Count the request and tell whether it is allowed."""
        # DRF's own notion of an address is whatever X-Forwarded-For says, which a client can invent anew each time.
        self.address = request.META.get("REMOTE_ADDR", "")
        return tries.count(self.scope, self.address, self.window) <= self.limit

    def wait(self) -> float:
        """Return after how many seconds it is worth trying again."""
        return tries.wait_s(self.scope, self.address, self.window)


class WrongSignIns(AddressThrottle):
    """So many wrong sign-ins from one address, whoever they were for; a right one is taken back.

    Like every try it is counted before it is looked at: requests sent together are not let through together.
    """

    scope = "sign-in"
    rate = "40/hour"

    def was_right(self) -> None:
        """Take the try that was let through back."""
        tries.take_back(self.scope, self.address, self.window)
