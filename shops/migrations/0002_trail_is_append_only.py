"""Let the database itself refuse to change or delete a line of the audit trail."""

from django.db import migrations

from shops import append_only


def install(apps, schema_editor):
    append_only.install(schema_editor.connection)


def uninstall(apps, schema_editor):
    append_only.uninstall(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("shops", "0001_initial")]
    operations = [migrations.RunPython(install, uninstall)]
