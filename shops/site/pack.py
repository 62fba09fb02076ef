"""What the service hands out as the client: each page with one script and one style sheet, short and compressed.

The sources are the truth and nothing is written to disk: a process makes the packs when they are first asked for and
keeps them. With COILBOOK_DEBUG they are made anew when a source has changed, and a page asked for with ?modules comes
as it stands, with every module and style sheet by itself.
"""

from __future__ import annotations

import gzip
import hashlib
import re
import threading
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import brotli  # type: ignore[import-untyped]
import minify  # type: ignore[import-untyped]
from django.conf import settings

from shops.site import modules

FRONTEND = Path(settings.ROOT, "frontend")
TYPES = {"js": "text/javascript", "css": "text/css", "html": "text/html"}
_STYLE = re.compile(r' *<link rel="stylesheet" href="/static/(?P<path>css/[\w-]+\.css)">\n')
_TAKING_APART = re.compile(r"(?<![\w$.(])(?=(?:const|let) ?[{\[])")
_SCRIPT = re.compile(r'src="/static/js/(?P<path>[\w-]+\.js)"')


@dataclass(frozen=True)
class Packed:
    """One file as it goes out: its kind ("js", "css" or "html") and its text; compressed when first wanted so."""

    kind: str
    text: bytes

    @cached_property
    def digest(self) -> str:
        """What tells this text from any other."""
        return hashlib.sha256(self.text).hexdigest()[:16]

    @cached_property
    def br(self) -> bytes:
        """The text as RFC 7932 compresses it."""
        return brotli.compress(self.text)

    @cached_property
    def gzip(self) -> bytes:
        """The text as RFC 1952 compresses it, the same in every process."""
        return gzip.compress(self.text, mtime=0)

    def encoded(self, encoding: str) -> bytes:
        """Return the text in `encoding`: "br", "gzip" or "identity"."""
        return {"br": lambda: self.br, "gzip": lambda: self.gzip, "identity": lambda: self.text}[encoding]()


def _packed(kind: str, text: str) -> Packed:
    if kind == "js":
        # The shortener moves a declaration that takes a value apart before the plain one in front of it, even where
        # it needs that one. An empty statement between the two keeps them in order.
        text = _TAKING_APART.sub("0;", text)
    return Packed(kind, minify.string(TYPES[kind], text).encode())


def make(folder: Path) -> dict[str, Packed]:
    """Pack the client in `folder`: "index.html" and "record.html" with their files, and "worker.js".

    A page's script and style sheet are named after it: "index.js", "index.css". Raises Unjoinable for a source that
    the packing cannot take.
    """
    files = {"worker.js": _packed("js", (folder / "worker.js").read_text(encoding="utf-8"))}
    for page in ("index", "record"):
        text = (folder / f"{page}.html").read_text(encoding="utf-8")
        styles = [(folder / found["path"]).read_text(encoding="utf-8") for found in _STYLE.finditer(text)]
        script = _SCRIPT.search(text)
        if not styles or not script:
            raise modules.Unjoinable(f"{page}.html names no style sheet or no script of its own.")
        css = files[f"{page}.css"] = _packed("css", "\n".join(styles))
        js = files[f"{page}.js"] = _packed("js", modules.join(modules.load(folder / "js", script["path"])))
        text = _STYLE.sub("\0", text).replace("\0", f'<link rel="stylesheet" href="{_address(page, css)}">\n', 1)
        text = _SCRIPT.sub(f'src="{_address(page, js)}"', text.replace("\0", ""))
        files[f"{page}.html"] = Packed("html", text.encode())
    return files


def _address(page: str, file: Packed) -> str:
    """Return where a pack is found: the digest is in the address, so that a browser never asks twice for one."""
    return f"/pack/{page}.{file.digest}.{file.kind}"


_lock = threading.Lock()
_made: dict[str, Packed] = {}
_made_from: list[float] = []


def client() -> dict[str, Packed]:
    """Return the packed client of this process."""
    with _lock:
        state = _state() if settings.DEBUG else []
        if not _made or state != _made_from:
            _made.update(make(FRONTEND))
            _made_from[:] = state
        return dict(_made)


def warm() -> None:
    """Make the packs and compress them, so that the first visitor need not wait for it."""
    for file in client().values():
        file.br, file.gzip  # noqa: B018


def _state() -> list[float]:
    """Return what changes with every source: when each was written."""
    return [path.stat().st_mtime for path in sorted(FRONTEND.rglob("*.*"))]
