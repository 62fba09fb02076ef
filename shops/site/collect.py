"""Collects every text that people see from the source, and keeps the catalogues up with it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.extract import extract, extract_python
from babel.messages.pofile import read_po, write_po
from django.conf import settings
from django.utils.translation.template import templatize

from shops.site import compiled

DOMAINS = ("django", "djangojs")
"""The server's texts and the client's."""
_ROOMS = {"django": ("calc", "shops", "setups"), "djangojs": ("frontend",)}
_UNSEEN = frozenset({"migrations", "management"})
"""Folders whose texts nobody but the operator sees."""
_SERVER: dict[str, Any] = {
    "_": None,
    "gettext": None,
    "gettext_lazy": None,
    "gettext_noop": None,
    "ngettext": (1, 2),
    "ngettext_lazy": (1, 2),
    "pgettext": ((1, "c"), 2),
    "pgettext_lazy": ((1, "c"), 2),
    "say": None,
    "say_of": (2, 3),
    "mark": None,
}
_KEYWORDS: dict[str, dict[str, Any]] = {"django": _SERVER, "djangojs": {"t": None, "tn": (2, 3)}}
"""Which calls hold a text, and where in them it stands."""
_OPTIONS = {"parse_template_string": True}
"""A text may stand within a JavaScript template."""
_CHANGING = re.compile(
    r'^"(?:POT-Creation-Date|PO-Revision-Date|Last-Translator|Language-Team|Generated-By|Report-Msgid-Bugs-To)'
    r'[^\n]*\n',
    re.M,
)


def _from_template(source: Any, keywords: Any, comment_tags: Any, options: Any) -> Iterator[Any]:
    """Collect from a Django template, which Django itself can read as if it were Python."""
    python = templatize(source.read().decode())
    return extract_python(BytesIO(python.encode()), keywords, comment_tags, options)


_READERS: dict[str, Any] = {".py": "python", ".js": "javascript", ".html": _from_template, ".txt": _from_template}


def _files(domain: str) -> Iterator[tuple[Path, Any]]:
    endings = (".js",) if domain == "djangojs" else (".py", ".html", ".txt")
    for room in _ROOMS[domain]:
        for path in sorted(Path(settings.ROOT, room).rglob("*")):
            if path.suffix in endings and not _UNSEEN & set(path.parts):
                yield path, _READERS[path.suffix]


def collected(domain: str, language: str) -> Catalog:
    """Return a catalogue of every text of the domain as the source has it now, none of them translated."""
    found = Catalog(locale=language, project="Coilbook", fuzzy=False, charset="utf-8", header_comment="")
    for path, reader in _files(domain):
        name = path.relative_to(settings.ROOT).as_posix()
        with path.open("rb") as source:
            for _, text, _, context in extract(reader, source, keywords=_KEYWORDS[domain], options=_OPTIONS):
                if text:
                    found.add(text, context=context, locations=[(name, 0)])
    for message in found:
        # A per cent sign is no place-holder here: all are written in braces.
        message.flags.discard("python-format")
    return found


def kept(domain: str, language: str) -> Catalog:
    """Return the catalogue as it lies in the source tree."""
    path = compiled.folder(language) / f"{domain}.po"
    if not path.exists():
        return Catalog(locale=language)
    with path.open("rb") as text:
        return read_po(text, locale=language)


def bring_up_to_date(domain: str, language: str) -> tuple[int, list[str]]:
    """Write the catalogue anew: every text of the source, with the translations that there are.

    What the source no longer says is dropped. Returns how many texts there are and those not translated.
    """
    old, new = kept(domain, language), collected(domain, language)
    for message in new:
        before = old.get(message.id, message.context) if message.id else None
        if before is not None and isinstance(before.string, str) == isinstance(message.id, str):
            message.string = before.string
    text = BytesIO()
    write_po(text, new, width=100, sort_output=True, include_lineno=False)
    path = compiled.folder(language) / f"{domain}.po"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(_CHANGING.sub("", text.getvalue().decode()).strip() + "\n", encoding="utf-8")
    texts = [message for message in new if message.id]
    return len(texts), [first(message.id) for message in texts if not is_translated(message.string)]


def first(text: Any) -> str:
    """Return a message's text, of a plural one the singular."""
    return str(text if isinstance(text, str) else text[0])


def is_translated(text: Any) -> bool:
    """Tell whether a message has its translation, of a plural one every form."""
    return bool(text) if isinstance(text, str) else bool(text) and all(text)
