"""The totals of sags are kept for each month, too, so that an audit of some years adds up months, not rows."""

from datetime import UTC

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import Count, DateField, F, FloatField, Sum
from django.db.models.functions import TruncMonth

GROUP = ("shop_id", "model_key", "end", "sag")


def add_up(apps, editor):
    """Add up the rows that count already."""
    alias = editor.connection.alias
    built, totals, months = (
        apps.get_model("setups", name).objects.using(alias) for name in ("BuiltSag", "SagTotal", "SagMonth")
    )

    def square(name):
        return Sum(F(name) * F(name), output_field=FloatField())

    kept = {tuple(key): pk for pk, *key in totals.values_list("id", *GROUP)}
    by_month = TruncMonth("sealed_at", output_field=DateField(), tzinfo=UTC)
    groups = built.filter(left_out="").order_by().values(*GROUP, month=by_month).annotate(
        cards=Count("id"), sum_mm=Sum("difference_mm"), squares_mm2=square("difference_mm"), u_squares_mm2=square("u_mm")
    )
    found = (
        months.model(total_id=kept[tuple(one.pop(name) for name in GROUP)], **one)
        for one in groups.iterator(chunk_size=5000)
    )
    months.bulk_create(found, batch_size=5000)


class Migration(migrations.Migration):
    dependencies = [("setups", "0018_indexes_that_are_used")]

    operations = [
        migrations.CreateModel(
            name="SagMonth",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("month", models.DateField(help_text="Its first day.")),
                ("cards", models.PositiveIntegerField(default=0)),
                ("sum_mm", models.FloatField(default=0.0)),
                ("squares_mm2", models.FloatField(default=0.0)),
                ("u_squares_mm2", models.FloatField(default=0.0)),
                (
                    "total",
                    models.ForeignKey(
                        db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name="months",
                        to="setups.sagtotal",
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
                "constraints": [
                    models.UniqueConstraint(fields=("total", "month"), name="one_sum_per_total_and_month")
                ],
            },
        ),
        migrations.RunPython(add_up, migrations.RunPython.noop, elidable=True),
    ]
