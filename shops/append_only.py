"""The trail is append-only in the database itself: triggers refuse what no verb of ours would do."""

from __future__ import annotations

from typing import Any

_SQLITE_MAKE = """
CREATE TRIGGER IF NOT EXISTS shops_auditentry_keeps_{word} BEFORE {word} ON shops_auditentry
BEGIN SELECT RAISE(ABORT, 'the audit trail is append-only'); END
"""
_POSTGRESQL_MAKE = """
CREATE OR REPLACE FUNCTION shops_auditentry_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the audit trail is append-only' USING ERRCODE = 'integrity_constraint_violation';
END $$;
CREATE OR REPLACE TRIGGER shops_auditentry_keeps BEFORE UPDATE OR DELETE OR TRUNCATE ON shops_auditentry
FOR EACH STATEMENT EXECUTE FUNCTION shops_auditentry_refuse();
"""
_POSTGRESQL_DROP = """
DROP TRIGGER IF EXISTS shops_auditentry_keeps ON shops_auditentry;
DROP FUNCTION IF EXISTS shops_auditentry_refuse();
"""
_WORDS = ("UPDATE", "DELETE")


def install(connection: Any) -> None:
    """Make the triggers on the database behind `connection`."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRESQL_MAKE)
            return
        for word in _WORDS:
            cursor.execute(_SQLITE_MAKE.format(word=word))


def uninstall(connection: Any) -> None:
    """Take the triggers away: when the table itself goes, or a test database is emptied."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRESQL_DROP)
            return
        for word in _WORDS:
            cursor.execute(f"DROP TRIGGER IF EXISTS shops_auditentry_keeps_{word}")
