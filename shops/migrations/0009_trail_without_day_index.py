"""The trail's days are looked for by its other indexes, which begin with the business."""

from django.db import migrations, models
from django.utils import timezone

from shops.unindexed import unindexed


class Migration(migrations.Migration):
    dependencies = [("shops", "0008_shop_units")]

    operations = [
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.AlterField("auditentry", "at", models.DateTimeField(default=timezone.now))
            ],
            database_operations=[unindexed("shops_auditentry", "at")],
        ),
    ]
