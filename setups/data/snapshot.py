"""One moment of the database, read while others go on writing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import transaction
from django.db.transaction import get_connection


@contextmanager
def snapshot() -> Iterator[None]:
    """Let all that is read inside be as at one moment; nobody is kept from writing meanwhile.

    SQLite's write-ahead log shows a deferred transaction what stood at its first read; PostgreSQL does so for one
    that is repeatable read. Inside another transaction that one's own view is what is read.
    """
    connection: Any = get_connection()
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        connection.ensure_connection()  # the mode is set when it is opened
        before, connection.transaction_mode = connection.transaction_mode, "DEFERRED"
        try:
            with transaction.atomic():
                yield
        finally:
            connection.transaction_mode = before
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
