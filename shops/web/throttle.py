"""Slowing down whoever tries passwords or secrets, by the address that `AddressMiddleware` found."""

from __future__ import annotations

from typing import Any

from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle


class AddressThrottle(SimpleRateThrottle):
    """So many requests from one address; `scope` and `rate` say what of.

    DRF's own notion of an address is whatever X-Forwarded-For says, which a client can invent anew each time.
    """

    def get_cache_key(self, request: Request, view: Any) -> str:
        """Return the key under which an address's requests are counted."""
        return self.cache_format % {"scope": self.scope, "ident": request.META.get("REMOTE_ADDR", "")}


class WrongSignIns(AddressThrottle):
    """So many wrong sign-ins from one address, whoever they were for; right ones do not count."""

    scope = "sign-in"
    rate = "40/hour"

    def throttle_success(self) -> bool:
        """Allow, and count nothing yet: whether the password is right is not known."""
        return True

    def count(self, request: Request, view: Any) -> None:
        """Count a sign-in that was wrong."""
        if self.allow_request(request, view):
            super().throttle_success()
