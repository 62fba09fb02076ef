"""The client's files, compressed on their way: a workshop's wifi is slow."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware


def wanted(request: HttpRequest) -> str:
    """Return the shortest of "br", "gzip" and "identity" that `request` accepts (RFC 9110, section 12.5.3)."""
    accepted = {}
    for part in request.headers.get("Accept-Encoding", "").lower().split(","):
        name, _semicolon, weight = part.replace(" ", "").partition(";q=")
        accepted[name] = weight.strip("0.") != "" if weight else True
    return next((each for each in ("br", "gzip") if accepted.get(each, accepted.get("*", False))), "identity")


class CompressFiles(GZipMiddleware):
    """Compress whole static files and the client's texts for whoever accepts it, and nothing else.

    Answers of the API stay as they are: compressing what holds a secret beside what a visitor chose can give the
    secret away by its length (RFC 7457, section 2.6). Static files hold none.
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        """Compress `response` where it is a file of the client's, sent whole."""
        if response.status_code != 200 or not request.path.startswith((settings.STATIC_URL, "/words/")):
            return response
        return super().process_response(request, response)
