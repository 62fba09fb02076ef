from django.db import migrations, models

import shops.models


class Migration(migrations.Migration):
    dependencies = [("shops", "0007_languages")]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="units",
            field=models.JSONField(
                default=shops.models.default_units, help_text="In which its records are read, by quantity."
            ),
        ),
    ]
