"""Torque lines and overrides keep their card's business, so that an audit's lists and counts need no card."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery

KEPT = ("torqueline", "override")


def keep(apps, editor):
    """Give the rows that are there their card's business."""
    cards = apps.get_model("setups", "JobCard").objects.using(editor.connection.alias)
    business = cards.filter(pk=OuterRef("card")).values("business")
    for name in KEPT:
        rows = apps.get_model("setups", name).objects.using(editor.connection.alias)
        rows.update(business=Subquery(business))


class Migration(migrations.Migration):
    dependencies = [("setups", "0019_sag_months"), ("shops", "0008_shop_units")]

    operations = [
        *(
            migrations.AddField(
                name,
                "business",
                models.ForeignKey(
                    db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT,
                    related_name="+", to="shops.business",
                ),
            )
            for name in KEPT
        ),
        migrations.RunPython(keep, migrations.RunPython.noop),
    ]
