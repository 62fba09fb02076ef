"""The network address that a request comes from, also behind proxies of our own."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase


class AddressMiddleware:
    """Puts the client's own address in REMOTE_ADDR, by which the trail and the sign-in's throttle go.

    Behind COILBOOK_PROXIES proxies it is the entry of X-Forwarded-For that the outermost of them wrote,
    counted from the right: what stands further left was sent by the client and may be invented. What is no
    address is dropped.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer `request` with its address set right."""
        request.META["REMOTE_ADDR"] = self._address(request)
        return self.get_response(request)

    def _address(self, request: HttpRequest) -> str:
        found = request.META.get("REMOTE_ADDR", "")
        if settings.PROXIES:
            entries = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
            found = entries[-settings.PROXIES].strip() if len(entries) >= settings.PROXIES else ""
        try:
            return str(ipaddress.ip_address(found.partition("%")[0]))
        except ValueError:
            return ""
