"""What the service hands out as the client: each page with one script and one style sheet, short and compressed.

The sources are the truth and nothing is written to disk: a process makes the packs when they are first asked for and
keeps them. With COILBOOK_DEBUG they are made anew when a source has changed, and a page asked for with ?modules comes
as it stands, with every module and style sheet by itself.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import re
import subprocess
import sys
import threading
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import brotli  # type: ignore[import-untyped]
from django.conf import settings

from shops.site import modules

FRONTEND = Path(__file__).resolve().parents[2] / "frontend"
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
        return brotli.compress(self.text, mode=brotli.MODE_TEXT)

    @cached_property
    def gzip(self) -> bytes:
        """The text as RFC 1952 compresses it, the same in every process."""
        return gzip.compress(self.text, mtime=0)

    def encoded(self, encoding: str) -> bytes:
        """Return the text in `encoding`: "br", "gzip" or "identity"."""
        return {"br": lambda: self.br, "gzip": lambda: self.gzip, "identity": lambda: self.text}[encoding]()


# In a process of its own: the shortener brings a run time whose threads do not survive the fork by which a server makes
# its workers, and a worker that called it would wait for ever.
_SHORTEN = """
import json, sys, minify
json.dump([minify.string(kind, text) for kind, text in json.load(sys.stdin)], sys.stdout)
"""


def shortened(texts: list[tuple[str, str]]) -> list[str]:
    """Return each (kind, text) without what only its reader needs."""
    wanted = json.dumps([(TYPES[kind], _in_order(text) if kind == "js" else text) for kind, text in texts])
    command = [sys.executable, "-c", _SHORTEN]
    made = subprocess.run(command, input=wanted.encode(), stdout=subprocess.PIPE, check=True)  # noqa: S603 - our own
    return list(json.loads(made.stdout))


def _in_order(text: str) -> str:
    """Return the script so that the shortener keeps its declarations in order.

    It moves a declaration that takes a value apart before the plain one in front of it, even where it needs that one;
    an empty statement between the two keeps them apart.
    """
    return _TAKING_APART.sub("0;", text)


def make(folder: Path) -> dict[str, Packed]:
    """Pack the client in `folder`: "index.html" and "record.html" with their files, and "worker.js".

    A page's script and style sheet are named after it: "index.js", "index.css". Raises Unjoinable for a source that
    the packing cannot take.
    """
    sources = [("worker.js", (folder / "worker.js").read_text(encoding="utf-8"))]
    pages = {}
    for page in ("index", "record"):
        pages[page] = text = (folder / f"{page}.html").read_text(encoding="utf-8")
        styles = [(folder / found["path"]).read_text(encoding="utf-8") for found in _STYLE.finditer(text)]
        script = _SCRIPT.search(text)
        if not styles or not script:
            raise modules.Unjoinable(f"{page}.html names no style sheet or no script of its own.")
        sources.append((f"{page}.css", "\n".join(styles)))
        sources.append((f"{page}.js", modules.join(modules.load(folder / "js", script["path"]))))
    kinds = [(name.rpartition(".")[2], text) for name, text in sources]
    short = zip(sources, shortened(kinds), strict=True)
    files = {name: Packed(name.rpartition(".")[2], text.encode()) for (name, _), text in short}
    for page, text in pages.items():
        css, js = (_address(page, files[f"{page}.{kind}"]) for kind in ("css", "js"))
        styled = _STYLE.sub("\0", text).replace("\0", f'<link rel="stylesheet" href="{css}">\n', 1).replace("\0", "")
        files[f"{page}.html"] = Packed("html", _SCRIPT.sub(f'src="{js}"', styled).encode())
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
