"""Sessions that nobody uses lapse on the server too, whatever a page left open believes."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

from shops import hands, tablets


class IdleMiddleware:
    """Notes each use of a session by the API, and ends it when it was left alone for too long."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer `request` as whoever may still use its session."""
        if request.path_info.startswith("/api/") and settings.SESSION_COOKIE_NAME in request.COOKIES:
            hands.use(request.session, request.COOKIES.get(tablets.COOKIE, "")[:100])
        return self.get_response(request)
