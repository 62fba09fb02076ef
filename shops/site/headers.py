"""Response headers that Django has no setting for."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponseBase

PERMISSIONS = "camera=(), geolocation=(), microphone=(), payment=(), usb=(), interest-cohort=()"


class HeadersMiddleware:
    """Refuses the browser's powers that nothing here uses, and keeps the API's answers out of every cache."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer `request` with the headers added."""
        response = self.get_response(request)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        response.headers.setdefault("X-Frame-Options", "DENY")  # on static files too, which come by another way
        if request.path_info.startswith("/api/"):
            response.headers["Cache-Control"] = "no-store"
        return response
