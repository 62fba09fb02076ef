"""What audits list of torque lines and overrides is indexed by business and day."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import F, Q

KEPT = {
    "torqueline": "Its card's; kept here for an index, as is `opened_at`.",
    "override": "Its card's; kept here for an index.",
}


class Migration(migrations.Migration):
    # Apart from the migration before: PostgreSQL alters no table of which rows were changed in the same transaction.
    dependencies = [("setups", "0020_business_of_lines")]

    operations = [
        *(
            migrations.AlterField(
                name,
                "business",
                models.ForeignKey(
                    db_index=False, editable=False, help_text=text, on_delete=django.db.models.deletion.PROTECT,
                    related_name="+", to="shops.business",
                ),
            )
            for name, text in KEPT.items()
        ),
        migrations.RemoveIndex("torqueline", "torque_unchecked"),
        migrations.RemoveIndex("torqueline", "torque_unsourced"),
        migrations.RemoveIndex("override", "overrides_by_day"),
        migrations.AddIndex(
            "torqueline",
            models.Index(
                fields=["business", "-opened_at", "-id"],
                condition=Q(
                    Q(checked_by__isnull=True) | Q(checked_by=F("tightened_by")),
                    needs_second_check=True,
                    tightened_by__isnull=False,
                ),
                name="unchecked_by_day",
            ),
        ),
        migrations.AddIndex(
            "torqueline",
            models.Index(
                fields=["business", "-opened_at", "-id"],
                condition=Q(Q(source_edition="") | Q(source_page=""), value_nm__isnull=False),
                name="unsourced_by_day",
            ),
        ),
        migrations.AddIndex("override", models.Index(fields=["business", "-at", "-id"], name="override_of_a_day")),
    ]
