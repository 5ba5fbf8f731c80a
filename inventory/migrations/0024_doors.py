"""Which doing made a tag, so that a form sent twice makes them once."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0020_handing_over")]

    operations = [
        migrations.AddField(
            model_name="tag",
            name="made_in",
            field=models.ForeignKey(
                blank=True,
                help_text="empty of the oldest",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                to="inventory.action",
            ),
        ),
    ]
