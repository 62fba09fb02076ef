"""On PostgreSQL two roles can share the work: one owns the tables and migrates them, the other serves.

The serving role may do all that the verbs need, and no more with the audit trail than read and add to it: not
even somebody who has its password can rewrite what was done.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connections

OWNER = "owner"
"""The alias of the connection of the owning role (MIGRATE_DATABASE_URL)."""
TRAIL = "shops_auditentry"


@contextmanager
def as_owner() -> Iterator[None]:
    """Let everything inside that uses the serving connection go by the owning role, where there is one.

    Upkeep that puts everything back must take down guards for a moment, which the serving role cannot.
    """
    if OWNER not in settings.DATABASES:
        yield
        return
    serving = connections[DEFAULT_DB_ALIAS]
    connections[DEFAULT_DB_ALIAS] = connections[OWNER]
    try:
        yield
    finally:
        connections[DEFAULT_DB_ALIAS] = serving


def limit(connection: Any, role: str) -> None:
    """Give `role` its rights on all tables that there are now, over the owner's `connection`."""
    name = connection.ops.quote_name(role)
    with connection.cursor() as cursor:
        cursor.execute(f"GRANT USAGE ON SCHEMA public TO {name}")
        cursor.execute(f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {name}")
        cursor.execute(f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {name}")
        cursor.execute(f"REVOKE UPDATE, DELETE ON {TRAIL} FROM {name}")


def after_migrate(using: str, **_: Any) -> None:
    """Set the serving role's rights after the owning role has migrated; nothing if one does both."""
    role = settings.DATABASES["default"].get("USER")
    connection = connections[using]
    if using != OWNER or connection.vendor != "postgresql" or not role:
        return
    if TRAIL in connection.introspection.table_names():
        limit(connection, role)
