"""Putting tags on and what the owner sets are part of what happened."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("inventory", "0007_kinds_of_case_dates")]

    operations = [
        migrations.AlterField(
            model_name="action",
            name="kind",
            field=models.CharField(
                choices=[
                    ("bring in", "brought in"),
                    ("move", "moved"),
                    ("take out", "taken out"),
                    ("bring back", "brought back"),
                    ("settle", "market closed"),
                    ("count", "counted"),
                    ("split", "split in two"),
                    ("combine", "combined"),
                    ("re-sort", "re-sorted"),
                    ("discard", "discarded"),
                    ("inspect", "looked at"),
                    ("hold", "put on hold"),
                    ("release", "released"),
                    ("correct", "corrected"),
                    ("undo", "undone"),
                    ("tag", "tagged"),
                    ("change", "set by the owner"),
                ],
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="movement",
            name="kind",
            field=models.CharField(
                choices=[
                    ("brought in", "brought in"),
                    ("corrected", "corrected"),
                    ("moved", "moved"),
                    ("out", "out"),
                    ("back", "back"),
                    ("settled", "settled"),
                    ("counted", "counted"),
                    ("split", "split"),
                    ("combined", "combined"),
                    ("re-sorted", "re-sorted"),
                    ("weight lost", "weight lost"),
                    ("discarded", "discarded"),
                    ("inspected", "looked at"),
                    ("held", "on hold"),
                    ("released", "released"),
                    ("undone", "undone"),
                    ("tag on", "tag put on"),
                    ("tag off", "tag taken off"),
                ],
                max_length=11,
            ),
        ),
        migrations.CreateModel(
            name="Change",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "subject",
                    models.CharField(help_text="the kind of row, as the code calls it", max_length=20),
                ),
                ("key", models.CharField(max_length=40)),
                ("name", models.CharField(help_text="what it was called then", max_length=100)),
                ("field", models.CharField(max_length=40)),
                ("before", models.CharField(blank=True, max_length=200)),
                ("after", models.CharField(blank=True, max_length=200)),
                (
                    "action",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="changes",
                        to="inventory.action",
                    ),
                ),
            ],
            options={"ordering": ["pk"]},
        ),
        migrations.AddConstraint(
            model_name="change",
            constraint=models.UniqueConstraint(
                fields=("action", "subject", "key", "field"), name="a_field_is_set_once_an_action"
            ),
        ),
    ]
