"""Keeps with each stored PDF the digest of its bytes, so that verification sees a changed one."""

import hashlib

from django.db import migrations, models

from setups.record import append_only


def lower(apps, editor):
    for statement in append_only.lower_guard(editor.connection.vendor):
        editor.execute(statement)


def fill(apps, editor):
    stored = apps.get_model("setups", "StoredPdf")
    manager = stored._base_manager.using(editor.connection.alias)
    for row in manager.iterator(chunk_size=50):
        manager.filter(pk=row.pk).update(content_digest=hashlib.sha256(bytes(row.content)).hexdigest())


def raise_again(apps, editor):
    for statement in append_only.raise_guard(editor.connection.vendor):
        editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("setups", "0002_append_only")]
    operations = [
        # On SQLite the table is made anew, which would drop its triggers.
        migrations.RunPython(lower, raise_again),
        migrations.AddField(
            "storedpdf",
            "content_digest",
            models.CharField(default="", help_text="SHA-256 of the bytes, as they were stored.", max_length=64),
            preserve_default=False,
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
        migrations.RunPython(raise_again, lower),
    ]
