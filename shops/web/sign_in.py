"""The session cookie as DRF's authentication."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed, PermissionDenied
from rest_framework.request import Request

from shops import language

NO_TOKEN = gettext_lazy("The request carries no valid token: reload the page and try again.")


class CookieAuthentication(SessionAuthentication):
    """Session cookie and CSRF token; who is not signed in is answered 401.

    So is a page that says, in the header Coilbook-Person, that it works for somebody else than the session's person:
    the browser has changed hands since, and nothing is done in the wrong name.
    """

    def authenticate(self, request: Request) -> tuple[Any, None] | None:
        """Return the session's person."""
        found = super().authenticate(request)
        meant = request.headers.get("Coilbook-Person")
        if found is not None and meant is not None and meant != str(found[0].pk):
            raise AuthenticationFailed
        if found is not None:
            language.speak_to(found[0])
        return found

    def enforce_csrf(self, request: Request) -> None:
        """Refuse a change without its token, in words for people: a stale page is the likely cause."""
        try:
            super().enforce_csrf(request)
        except PermissionDenied as error:
            raise PermissionDenied(NO_TOKEN, "csrf") from error

    def authenticate_header(self, request: Request) -> str:
        """Return the challenge that goes with a 401."""
        return "Session"


class CookieScheme(OpenApiAuthenticationExtension):
    """Describes `CookieAuthentication` in the schema."""

    target_class = CookieAuthentication
    name = "session"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        """Return OpenAPI's description of the cookie."""
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}
