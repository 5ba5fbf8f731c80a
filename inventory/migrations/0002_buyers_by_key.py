"""The ledger knows a buyer by key, and still how it was called then."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("inventory", "0001_first_tables")]

    operations = [
        migrations.AddField(
            model_name="movement",
            name="outlet",
            field=models.ForeignKey(
                blank=True,
                help_text="the buyer, where it is one",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                to="inventory.outlet",
            ),
        ),
        migrations.AlterField(
            model_name="movement",
            name="other_party",
            field=models.CharField(
                blank=True, help_text="to whom, as it was printed then", max_length=80
            ),
        ),
    ]
