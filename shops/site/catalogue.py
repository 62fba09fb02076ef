"""The client's texts in another language, as JSON: what its `words.js` asks for before the first screen."""

from __future__ import annotations

import hashlib
import json
from functools import cache

from babel.messages.pofile import read_po
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import etag, require_safe

from shops.site import compiled

# The customer's page says a few sentences and must not fetch the workshop's fifteen hundred for them.
PAGES = ("", "record")


@cache
def texts(language: str, page: str = "") -> bytes:
    """Return every translated text of the client, or of one page's own script, as one JSON object.

    English to `language`; a text with a count is a list, for one and for many. What is not translated, or only
    guessed at (fuzzy), is left out: the client then shows the English.
    """
    own = f"frontend/js/{page}.js"
    with (compiled.folder(language) / "djangojs.po").open("rb") as file:
        messages = read_po(file, locale=language)
    found: dict[str, str | list[str]] = {}
    for message in messages:
        ids, strings = (each if isinstance(each, (tuple, list)) else (each,) for each in (message.id, message.string))
        wanted = not page or any(file == own for file, _line in message.locations)
        if message.id and wanted and not message.fuzzy and all(strings):
            written = [str(each) for each in strings]
            found[str(ids[0])] = written if message.pluralizable else written[0]
    return json.dumps(found, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()


def _asked(name: str) -> tuple[str, str] | None:
    language, _point, page = name.partition(".")
    return (language, page) if language in compiled.translated() and page in PAGES else None


def _digest(request: HttpRequest, name: str) -> str | None:
    asked = _asked(name)
    return f'"{hashlib.sha256(texts(*asked)).hexdigest()[:16]}"' if asked else None


@require_safe
@etag(_digest)
def catalogue(request: HttpRequest, name: str) -> HttpResponse:
    """Serve the client's texts in the language `name`, or of one page ("de.record"); 404 for what there is not."""
    asked = _asked(name)
    if asked is None:
        raise Http404
    response = HttpResponse(texts(*asked), content_type="application/json; charset=utf-8")
    response.headers["Cache-Control"] = "no-cache"
    return response
