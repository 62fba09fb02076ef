"""The client's texts in another language, as JSON: what its `words.js` asks for before the first screen."""

from __future__ import annotations

import hashlib
import json
from functools import cache

from babel.messages.pofile import read_po
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import etag, require_safe

from shops.site import compiled


@cache
def texts(language: str) -> bytes:
    """Return every translated text of the client as one JSON object, English to `language`.

    A text with a count is a list, for one and for many. What is not translated, or only guessed at (fuzzy), is
    left out: the client then shows the English.
    """
    with (compiled.folder(language) / "djangojs.po").open("rb") as file:
        messages = read_po(file, locale=language)
    found: dict[str, str | list[str]] = {}
    for message in messages:
        ids, strings = (each if isinstance(each, (tuple, list)) else (each,) for each in (message.id, message.string))
        if message.id and not message.fuzzy and all(strings):
            written = [str(each) for each in strings]
            found[str(ids[0])] = written if message.pluralizable else written[0]
    return json.dumps(found, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()


def _digest(request: HttpRequest, language: str) -> str | None:
    if language not in compiled.translated():
        return None
    return f'"{hashlib.sha256(texts(language)).hexdigest()[:16]}"'


@require_safe
@etag(_digest)
def catalogue(request: HttpRequest, language: str) -> HttpResponse:
    """Serve the client's texts in `language`; 404 for a language that there is not."""
    if language not in compiled.translated():
        raise Http404
    response = HttpResponse(texts(language), content_type="application/json; charset=utf-8")
    response.headers["Cache-Control"] = "no-cache"
    return response
