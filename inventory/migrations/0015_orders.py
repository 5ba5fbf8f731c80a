"""Pulls become orders: the same rows and keys under the names of the order book."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0014_taken_back")]

    operations = [
        # A constraint names its columns: it goes before they are renamed, and comes back after.
        migrations.RemoveConstraint("pullline", "one_line_per_crop_and_unit"),
        migrations.RenameModel("Pull", "Order"),
        migrations.RenameModel("PullLine", "OrderLine"),
        migrations.RenameModel("PullTake", "Take"),
        migrations.RenameField("order", "planned_by", "said_by"),
        migrations.RenameField("order", "planned_at", "said_at"),
        migrations.RenameField("orderline", "pull", "order"),
        migrations.AddConstraint(
            "orderline",
            models.UniqueConstraint(
                fields=("order", "crop", "unit"), name="one_line_per_crop_and_unit"
            ),
        ),
        migrations.AddField("order", "due", models.DateField(null=True)),
    ]
