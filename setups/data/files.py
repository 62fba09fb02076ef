"""A file that is there whole or not at all, that only its owner may read, and that takes no other's place."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from django.core.management.base import CommandError


@contextmanager
def whole_file(path: Path) -> Iterator[IO[bytes]]:
    """Open a new file to be written; it gets its name at the end, and is gone again when something fails."""
    if path.exists():
        raise CommandError(f"{path} is there already: name a file that is not.")
    draft = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        descriptor = os.open(draft, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as error:
        raise CommandError(f"{path} cannot be written: {error.strerror}.") from None
    try:
        with open(descriptor, "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def digest_of(path: Path) -> str:
    """Return the file's SHA-256, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
