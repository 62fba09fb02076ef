"""Lets the database itself refuse to change or delete a sealed record."""

from django.db import migrations

from setups.record import append_only


def forwards(apps, editor):
    for statement in append_only.raise_guard(editor.connection.vendor):
        editor.execute(statement)


def backwards(apps, editor):
    for statement in append_only.lower_guard(editor.connection.vendor):
        editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("setups", "0001_initial")]
    operations = [migrations.RunPython(forwards, backwards)]
