"""Canonical JSON, digests, and commitments to values that may one day have to be erased."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import rfc8785

SALT_BYTES = 32


def canonical(document: Any) -> str:
    """Return `document` as RFC 8785 canonical JSON: one text, and so one digest, for one content.

    Raises rfc8785.CanonicalizationError for what JSON cannot hold (NaN, infinities, integers past 2**53).
    """
    return rfc8785.dumps(document).decode("utf-8")


def digest(text: str) -> str:
    """Return the SHA-256 (FIPS 180-4) of the text's UTF-8 bytes, in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


@dataclass(frozen=True)
class Personal:
    """A personal value that stays outside the document, with the salt that makes its commitment unguessable.

    `shared`: a customer link may show it without more ado (the customer's own name, but not the rider's
    mass).
    """

    path: str
    value: Any
    shared: bool
    salt: str

    @property
    def commitment(self) -> dict[str, str]:
        """Return what stands in the document instead of the value."""
        return {"commitment": commitment(self.path, self.salt, self.value)}


def personal(path: str, value: Any, *, shared: bool) -> Personal:
    """Return `value` with a fresh random salt of 256 bits."""
    return Personal(path, value, shared, secrets.token_hex(SALT_BYTES))


def commitment(path: str, salt: str, value: Any) -> str:
    """Return the SHA-256 that binds a document to `value` without telling it.

    The path enters too, so that two equal values cannot be exchanged, and the salt keeps a short value (a
    mass, a
    plate) from being found by trying all of them.
    """
    return digest(canonical({"path": path, "salt": salt, "value": value}))


def is_committed(document_value: Any, path: str, salt: str, value: Any) -> bool:
    """Tell whether `document_value`, found in a document, is the commitment to `value`."""
    if not isinstance(document_value, Mapping):
        return False
    return hmac.compare_digest(str(document_value.get("commitment", "")), commitment(path, salt, value))


def at_path(document: Any, path: str) -> Any:
    """Return what stands at a dotted path ("torques.0.value_nm"); raises KeyError where nothing does."""
    found = document
    for key in path.split("."):
        if isinstance(found, list) and key.isascii() and key.isdigit() and int(key) < len(found):
            found = found[int(key)]
        elif isinstance(found, dict) and key in found:
            found = found[key]
        else:
            raise KeyError(path)
    return found


def committed_paths(document: Any, path: str) -> Iterator[str]:
    """Yield the path of every commitment in a document, beginning with `path`, the name of its part."""
    if isinstance(document, dict):
        if set(document) == {"commitment"}:
            yield path
            return
        for key, value in document.items():
            yield from committed_paths(value, f"{path}.{key}")
    elif isinstance(document, list):
        for place, value in enumerate(document):
            yield from committed_paths(value, f"{path}.{place}")
