"""The catalogues that the server reads (.mo), made from the ones that people edit (.po)."""

from __future__ import annotations

import logging
import os
from pathlib import Path
from tempfile import NamedTemporaryFile

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from django.conf import settings

log = logging.getLogger(__name__)


def folder(language: str) -> Path:
    """Return where the catalogues of a language lie."""
    return Path(settings.LOCALE_PATHS[0]) / language / "LC_MESSAGES"


def translated() -> list[str]:
    """Return the languages that are translated into: all but the one that the source is written in."""
    return [code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE]


def make() -> None:
    """Make each catalogue that is not there or older than its source; where that fails, English is spoken.

    Several processes may do so at once: each puts a whole file in place.
    """
    for language in translated():
        for source in sorted(folder(language).glob("*.po")):
            made = source.with_suffix(".mo")
            try:
                if not made.exists() or made.stat().st_mtime_ns < source.stat().st_mtime_ns:
                    _write(source, made, language)
            except OSError as error:
                log.warning("%s could not be made, so its texts stay in English: %s", made, error)


def _write(source: Path, made: Path, language: str) -> None:
    with source.open("rb") as text:
        catalogue = read_po(text, locale=language)
    stamp = source.stat().st_mtime_ns
    with NamedTemporaryFile(dir=made.parent, suffix=".tmp", delete=False) as new:
        write_mo(new, catalogue)
    os.chmod(new.name, 0o644)  # a temporary file is its maker's alone; the service may run as somebody else
    # As old as its source, so that a source edited while this ran is found newer.
    os.utime(new.name, ns=(stamp, stamp))
    os.replace(new.name, made)
