"""Promises are no more: what is stored of an order is what was taken for it."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0017_fill_order_book")]

    operations = [
        migrations.RemoveField(
            model_name="take",
            name="missing",
        ),
        migrations.RemoveField(
            model_name="take",
            name="missing_at",
        ),
        migrations.AlterField(
            model_name="order",
            name="due",
            field=models.DateField(),
        ),
        migrations.AlterField(
            model_name="take",
            name="taken",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="take",
                to="inventory.action",
            ),
        ),
    ]
