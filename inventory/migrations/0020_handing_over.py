"""Handing over: numbered slips, crates of ours that come back, credits, the order of the run."""

import django.db.models.deletion
import inventory.models.crops
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0019_sunday_walk"),
    ]

    operations = [
        migrations.AddField(
            model_name="outlet",
            name="run_order",
            field=models.PositiveSmallIntegerField(default=0),
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
                    ("hand over", "handed over"),
                    ("empties", "empty crates"),
                    ("credit", "credit"),
                ],
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="orderentry",
            name="kind",
            field=models.CharField(
                choices=[
                    ("said", "order written"),
                    ("changed", "order changed"),
                    ("closed", "order done"),
                    ("reopened", "order opened again"),
                    ("cancelled", "order cancelled"),
                    ("told", "buyer told what is missing"),
                    ("repeats", "order repeats every week"),
                    ("ends", "order repeats no more"),
                    ("handed", "order handed over"),
                ],
                max_length=9,
            ),
        ),
        migrations.CreateModel(
            name="Handover",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveIntegerField(unique=True)),
                ("crates_out", models.PositiveSmallIntegerField(default=0)),
                ("crates_back", models.PositiveSmallIntegerField(default=0)),
                ("to_whom", models.CharField(max_length=80)),
                ("at", models.DateTimeField()),
                ("paper", models.JSONField(default=dict)),
                (
                    "action",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="handover",
                        to="inventory.action",
                    ),
                ),
                (
                    "order",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="handovers",
                        to="inventory.order",
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
            },
        ),
        migrations.CreateModel(
            name="Credit",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "what",
                    models.CharField(
                        choices=[("soft", "soft"), ("wrong", "wrong"), ("refused", "refused")],
                        max_length=7,
                    ),
                ),
                ("quantity", inventory.models.crops.QuantityField(decimal_places=3, max_digits=12)),
                (
                    "action",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="credit",
                        to="inventory.action",
                    ),
                ),
                (
                    "lot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="credits",
                        to="inventory.lot",
                    ),
                ),
                (
                    "handover",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="credits",
                        to="inventory.handover",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="Empties",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("back", "empty crates came back"), ("washed", "crates washed")],
                        max_length=6,
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                (
                    "action",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="empties",
                        to="inventory.action",
                    ),
                ),
                (
                    "outlet",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="inventory.outlet",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("number__gt", 0)), name="empties_are_some"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "back"), ("outlet__isnull", False)),
                            models.Q(("kind", "washed"), ("outlet__isnull", True)),
                            _connector="OR",
                        ),
                        name="crates_come_back_from_a_buyer_and_are_washed_here",
                    ),
                ],
            },
        ),
        migrations.AddConstraint(
            model_name="handover",
            constraint=models.CheckConstraint(
                condition=models.Q(("to_whom", ""), _negated=True), name="a_handover_says_to_whom"
            ),
        ),
        migrations.AddConstraint(
            model_name="credit",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity__gt", 0)), name="a_credit_is_of_something"
            ),
        ),
    ]
