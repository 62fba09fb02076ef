"""The few answers outside the API: the client's two pages, the health check, and Django's own errors."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import connection
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.utils.cache import get_conditional_response, patch_vary_headers
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from calc.refusal import Problem
from shops.site import compiled, compress, pack
from shops.web.sign_in import NO_TOKEN


def _send(request: HttpRequest, file: pack.Packed, cache: str) -> HttpResponse:
    """Answer `file` compressed as the browser likes it. Nothing secret is in it (see `shops.site.compress`)."""
    encoding = compress.wanted(request)
    response = HttpResponse(file.encoded(encoding), content_type=f"{pack.TYPES[file.kind]}; charset=utf-8")
    response.headers["Cache-Control"] = cache
    if encoding != "identity":
        response.headers["Content-Encoding"] = encoding
    patch_vary_headers(response, ["Accept-Encoding"])
    return response


def _page(request: HttpRequest, name: str) -> HttpResponse:
    """Answer a page; it is told to fetch the texts of its language along with its script, which waits for them."""
    if settings.DEBUG and "modules" in request.GET:
        return HttpResponse((pack.FRONTEND / name).read_bytes(), content_type="text/html; charset=utf-8")
    response = _send(request, pack.client()[name], "no-store")
    language = get_language()
    if language in compiled.translated():
        texts = f"{language}.record" if name == "record.html" else language
        response.headers["Link"] = f"</words/{texts}.json>; rel=preload; as=fetch; crossorigin"
    return response


@require_safe
def client(request: HttpRequest) -> HttpResponse:
    """Serve the client's only page."""
    return _page(request, "index.html")


@require_safe
def record(request: HttpRequest) -> HttpResponse:
    """Serve the shell of the customer's page; its secret stays in the fragment, which no server sees."""
    response = _page(request, "record.html")
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    return response


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """Serve the client's service worker from the root, since it may only keep files below its own address."""
    return _send(request, pack.client()["worker.js"], "no-cache")


@require_safe
def packed(request: HttpRequest, page: str, digest: str, kind: str) -> HttpResponse:
    """Serve a page's script or style sheet.

    A page that was kept from an earlier version asks by an old digest: it gets today's file, for it has no other, but
    nobody may keep that under the old address.
    """
    file = pack.client().get(f"{page}.{kind}")
    if file is None:
        raise Http404
    if digest != file.digest:
        return _send(request, file, "no-store")
    etag = f'W/"{file.digest}"'
    unchanged = get_conditional_response(request, etag=etag)
    response = unchanged or _send(request, file, "public, max-age=31536000, immutable")
    response.headers["ETag"] = etag
    return response


@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """Answer 200 while the service and its database work; a balancer or supervisor asks."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    response = HttpResponse("ok", content_type="text/plain")
    response.headers["Cache-Control"] = "no-store"
    return response


def _error(request: HttpRequest, status: int, code: str, text: str) -> HttpResponseBase:
    if request.path_info.startswith("/api/"):
        return JsonResponse({"problems": [Problem("", code, text).as_dict()]}, status=status)
    return HttpResponse(f"{text}\n", status=status, content_type="text/plain; charset=utf-8")


def bad_request(request: HttpRequest, exception: Any = None) -> HttpResponseBase:
    """Answer a request that Django itself refuses: too large, a foreign host name."""
    return _error(request, 400, "bad_request", _("The request could not be read: it is malformed or too large."))


def not_allowed(request: HttpRequest, exception: Any = None) -> HttpResponseBase:
    """Answer a refusal outside DRF."""
    return _error(request, 403, "not_allowed", _("You may not do this."))


def no_token(request: HttpRequest, reason: str = "") -> HttpResponseBase:
    """Answer a change that came without the CSRF token."""
    return _error(request, 403, "csrf", str(NO_TOKEN))


def not_found(request: HttpRequest, exception: Any = None) -> HttpResponseBase:
    """Answer an address that leads nowhere, with the words of a row that nobody may see."""
    return _error(request, 404, "not_found", _("There is nothing here that you may see."))


def failed(request: HttpRequest) -> HttpResponseBase:
    """Answer a defect of ours; the log has the traceback."""
    return _error(request, 500, "failed", _("The service failed and saved nothing; its log says why."))
