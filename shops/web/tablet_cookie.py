"""The cookie by which an enrolled tablet is known: out of scripts' reach, and sent to the API alone."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from rest_framework.request import Request
from rest_framework.response import Response

from shops import tablets
from shops.keys import Tablet

_PATH = "/api/"
_KEPT = timedelta(days=400)  # as long as browsers keep any (RFC 6265bis)


def tablet_here(request: Request) -> Tablet | None:
    """Return the enrolled tablet that asks; None for any other device."""
    return tablets.of_token(request.COOKIES.get(tablets.COOKIE, "")[:100])


def give(response: Response, token: str) -> None:
    """Let the device keep its token."""
    response.set_cookie(
        tablets.COOKIE, token, max_age=_KEPT, path=_PATH, secure=settings.HTTPS, httponly=True, samesite="Strict"
    )
