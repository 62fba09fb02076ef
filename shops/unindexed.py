"""Drops the index of a single column in a migration, and leaves its table alone.

Django on SQLite would copy the whole table instead, and lose the triggers of those that are append-only.
"""

from __future__ import annotations

from typing import Any

from django.db import migrations


def unindexed(table: str, column: str) -> migrations.RunPython:
    """Return the operation that drops every plain index of just `column`; nothing is done the other way round, where
    a look-up without index is slower and no less right.
    """

    def drop(apps: Any, editor: Any) -> None:
        with editor.connection.cursor() as cursor:
            found = editor.connection.introspection.get_constraints(cursor, table)
        for name, one in found.items():
            if one["index"] and one["columns"] == [column] and not (one["unique"] or one["primary_key"]):
                editor.execute(f"DROP INDEX {editor.quote_name(name)}")

    return migrations.RunPython(drop, migrations.RunPython.noop, elidable=True)
