"""What the field should give, when and how much the farm cuts, how soon a supplier comes."""

import django.db.models.deletion
import inventory.models.crops
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0018_only_takes"),
    ]

    operations = [
        migrations.AddField(
            model_name="farm",
            name="harvest_days",
            field=models.CharField(
                blank=True,
                help_text="weekdays as digits, 0 is Monday; empty is every day",
                max_length=7,
            ),
        ),
        migrations.AddField(
            model_name="farm",
            name="most_crates_a_day",
            field=models.PositiveSmallIntegerField(
                blank=True, help_text="that can be cut on one day", null=True
            ),
        ),
        migrations.AddField(
            model_name="source",
            name="lead_days",
            field=models.PositiveSmallIntegerField(
                blank=True, help_text="from the order to the delivery, of a supplier", null=True
            ),
        ),
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
                    ("order", "order"),
                    ("walk", "walk through the field"),
                ],
                max_length=10,
            ),
        ),
        migrations.CreateModel(
            name="Estimate",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "unit",
                    models.CharField(
                        choices=[
                            ("kg", "kg"),
                            ("lb", "lb"),
                            ("bunch", "bunches"),
                            ("head", "heads"),
                            ("piece", "pieces"),
                        ],
                        max_length=5,
                    ),
                ),
                ("quantity", inventory.models.crops.QuantityField(decimal_places=3, max_digits=12)),
                ("from_day", models.DateField()),
                ("said_at", models.DateTimeField()),
                (
                    "action",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="estimates",
                        to="inventory.action",
                    ),
                ),
                (
                    "block",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, to="inventory.source"
                    ),
                ),
                (
                    "crop",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, to="inventory.crop"
                    ),
                ),
                (
                    "said_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["said_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("quantity__gte", 0)),
                        name="a_block_gives_no_less_than_0",
                    ),
                    models.UniqueConstraint(
                        fields=("action", "crop", "block", "unit"),
                        name="a_walk_says_a_crop_of_a_block_once",
                    ),
                ],
            },
        ),
    ]
