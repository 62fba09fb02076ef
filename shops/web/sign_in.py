"""The session cookie as DRF's authentication."""

from __future__ import annotations

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import SessionAuthentication
from rest_framework.request import Request


class CookieAuthentication(SessionAuthentication):
    """Session cookie and CSRF token; who is not signed in is answered 401."""

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
