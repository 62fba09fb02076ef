"""Torque lines keep their card's day, so that an audit finds what it lists in order by one small index."""

import django.utils.timezone
from django.db import migrations, models
from django.db.models import F, OuterRef, Q, Subquery
from django.db.models.fields.json import KT


def keep_days(apps, editor):
    """Give the lines that are there their card's day."""
    lines, cards = apps.get_model("setups", "TorqueLine"), apps.get_model("setups", "JobCard")
    day = cards.objects.using(editor.connection.alias).filter(pk=OuterRef("card")).values("opened_at")
    lines.objects.using(editor.connection.alias).update(opened_at=Subquery(day))


class Migration(migrations.Migration):
    dependencies = [("setups", "0015_estimate_currency")]

    operations = [
        migrations.RemoveIndex(model_name="torqueline", name="torque_not_checked"),
        migrations.RemoveIndex(model_name="torqueline", name="torque_without_source"),
        migrations.RemoveIndex(model_name="sealedrecord", name="amendment_of_a_shop"),
        migrations.AddField(
            model_name="torqueline",
            name="opened_at",
            field=models.DateTimeField(
                default=django.utils.timezone.now,
                editable=False,
                help_text="When its card was opened, by which audits put lines in order; kept here for an index.",
            ),
            preserve_default=False,
        ),
        migrations.RunPython(keep_days, migrations.RunPython.noop, elidable=True),
        migrations.AddIndex(
            model_name="torqueline",
            index=models.Index(
                fields=["-opened_at", "-id"],
                condition=Q(
                    Q(checked_by__isnull=True) | Q(checked_by=F("tightened_by")),
                    needs_second_check=True,
                    tightened_by__isnull=False,
                ),
                name="torque_unchecked",
            ),
        ),
        migrations.AddIndex(
            model_name="torqueline",
            index=models.Index(
                fields=["-opened_at", "-id"],
                condition=Q(Q(source_edition="") | Q(source_page=""), value_nm__isnull=False),
                name="torque_unsourced",
            ),
        ),
        migrations.AddIndex(
            model_name="torqueline", index=models.Index(KT("calibration__cycles"), name="torque_cycles")
        ),
        migrations.AddIndex(
            model_name="sealedrecord",
            index=models.Index(
                fields=["-sealed_at", "-id"], condition=Q(what="amendment"), name="amendments_by_day"
            ),
        ),
        migrations.AddIndex(
            model_name="override", index=models.Index(fields=["-at", "-id"], name="overrides_by_day")
        ),
    ]
