"""The triggers by which the database refuses to change or delete what is sealed, whoever asks.

An owner of the database can drop a trigger; the chain of digests then still shows what was changed.
"""

from __future__ import annotations

RECORDS = "setups_sealedrecord"
PDFS = "setups_storedpdf"
_REFUSAL = "a sealed record is never changed or deleted; add an amendment"
_PDF_REFUSAL = "a stored PDF is served unchanged"
# A stored PDF may be deleted (a person's name printed on it may have to be erased), never changed.
_GUARDS = (
    (RECORDS, "UPDATE", _REFUSAL),
    (RECORDS, "DELETE", _REFUSAL),
    (PDFS, "UPDATE", _PDF_REFUSAL),
)


def raise_guard(vendor: str) -> list[str]:
    """Return the statements that set the triggers up, in the SQL of `vendor` (sqlite or postgresql)."""
    if vendor == "sqlite":
        return [
            f"CREATE TRIGGER IF NOT EXISTS {_name(table, event)} BEFORE {event} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{text}'); END"
            for table, event, text in _GUARDS
        ]
    statements = []
    for table, event, text in _GUARDS:
        name = _name(table, event)
        statements += [
            f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{text}'; END $$",
            f"CREATE OR REPLACE TRIGGER {name} BEFORE {event} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
        ]
    return statements


def lower_guard(vendor: str) -> list[str]:
    """Return the statements that take the triggers away again."""
    if vendor == "sqlite":
        return [f"DROP TRIGGER IF EXISTS {_name(table, event)}" for table, event, _ in _GUARDS]
    statements = []
    for table, event, _ in _GUARDS:
        name = _name(table, event)
        statements += [f"DROP TRIGGER IF EXISTS {name} ON {table}", f"DROP FUNCTION IF EXISTS {name}()"]
    return statements


def _name(table: str, event: str) -> str:
    return f"{table}_refuses_{event.lower()}"
