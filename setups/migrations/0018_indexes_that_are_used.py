"""Each index is one that a query uses: added for the sealed records by day, mended for the cycles, and four dropped.

Plates, frame numbers and days are looked for by other indexes; each dropped one was kept up with every row.
"""

from django.db import migrations, models
from django.db.models import F, Q
from django.utils import timezone

from shops.unindexed import unindexed

UNUSED = (
    ("bike", "plate", models.CharField(max_length=20, blank=True)),
    ("bike", "frame_number", models.CharField(max_length=40, blank=True)),
    ("jobcard", "opened_at", models.DateTimeField(default=timezone.now)),
    ("sealedrecord", "head", models.CharField(max_length=64)),
)


def measure(apps, editor):
    """Let PostgreSQL know at once how rare high cycles are: of an expression it learns that from its index alone."""
    if editor.connection.vendor == "postgresql":
        editor.execute("ANALYZE setups_torqueline")


class Migration(migrations.Migration):
    dependencies = [("setups", "0017_sag_totals"), ("shops", "0008_shop_units")]

    operations = [
        *(
            migrations.SeparateDatabaseAndState(
                state_operations=[migrations.AlterField(model, name, field)],
                database_operations=[unindexed(f"setups_{model}", name)],
            )
            for model, name, field in UNUSED
        ),
        migrations.AddIndex("sealedrecord", models.Index(fields=["head"], name="record_of_a_head")),
        migrations.AddIndex(
            "sealedrecord",
            models.Index(fields=["-sealed_at", "-id"], condition=Q(what="card"), name="records_by_day"),
        ),
        migrations.RemoveIndex("torqueline", name="torque_cycles"),
        migrations.AddIndex("torqueline", models.Index(F("calibration__cycles"), name="torque_by_cycles")),
        migrations.RunPython(measure, migrations.RunPython.noop, elidable=True),
    ]
