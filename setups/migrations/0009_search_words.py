"""Keeps the words by which customers, bikes and loose parts are found, and indexes what lists are ordered by."""

import django.db.models.deletion
from django.db import migrations, models

from setups.search import words_of

BATCH = 2000


def fill(apps, editor):
    """Keep the words of what is there already."""
    alias = editor.connection.alias
    word_model = apps.get_model("setups", "SearchWord")
    riders = {}
    for customer, name in apps.get_model("setups", "Rider")._base_manager.using(alias).values_list("customer", "name"):
        riders.setdefault(customer, []).append(name)

    def found():
        for row in apps.get_model("setups", "Customer")._base_manager.using(alias).iterator():
            yield "u", row, words_of((row.name, row.email, *riders.get(row.pk, ())), (row.phone,))
        for row in apps.get_model("setups", "Bike")._base_manager.using(alias).iterator():
            yield "b", row, words_of((row.make, row.model), (row.plate, row.frame_number))
        loose = apps.get_model("setups", "JobCard")._base_manager.using(alias).exclude(loose_description="")
        for row in loose.iterator():
            yield "c", row, words_of((row.loose_description,))

    batch = []
    for of, row, words in found():
        batch += [word_model(business_id=row.business_id, of=of, row_id=row.pk, word=w.encode()) for w in words]
        if len(batch) > BATCH:
            word_model._base_manager.using(alias).bulk_create(batch)
            batch = []
    word_model._base_manager.using(alias).bulk_create(batch)


class Migration(migrations.Migration):
    dependencies = [("setups", "0008_load_cases"), ("shops", "0006_wrench_cycles_and_currency")]
    operations = [
        migrations.CreateModel(
            name="SearchWord",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("word", models.BinaryField()),
                (
                    "of",
                    models.CharField(choices=[("u", "customer"), ("b", "bike"), ("c", "job card")], max_length=1),
                ),
                ("row_id", models.BigIntegerField()),
                (
                    "business",
                    models.ForeignKey(
                        db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name="+", to="shops.business"
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["business", "word", "of", "row_id"], name="word_finds_row"),
                    models.Index(fields=["of", "row_id"], name="row_has_words"),
                ],
            },
        ),
        migrations.AddIndex("customer", models.Index(fields=["business", "name", "id"], name="customers_by_name")),
        migrations.AddIndex("bike", models.Index(fields=["business", "make", "model", "id"], name="bikes_by_make")),
        migrations.AddIndex("jobcard", models.Index(fields=["business", "step", "-opened_at"], name="cards_by_step")),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
