"""Secrets that open something: made here, 256 random bits each, and kept only as a digest."""

from __future__ import annotations

import hashlib
import secrets

SECRET_BYTES = 32


def new_secret() -> str:
    """Return a secret of 256 random bits, in characters that need no escaping in an address."""
    return secrets.token_urlsafe(SECRET_BYTES)


def digest(secret: str) -> str:
    """Return the SHA-256 of a secret, in hex: what is kept of it. Too random to be found by trying."""
    return hashlib.sha256(secret.encode()).hexdigest()
