"""Each taking out says which crate should have gone first, as the rule saw it then."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("inventory", "0003_fill_buyers")]

    operations = [
        migrations.CreateModel(
            name="FirstInLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("days_apart", models.PositiveSmallIntegerField(default=0)),
                (
                    "why_not",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("refused", "the buyer does not take its kind"),
                            ("too old", "it would not keep long enough there"),
                            ("promised", "it is promised to another order"),
                        ],
                        max_length=8,
                    ),
                ),
                ("reachable", models.BooleanField(default=True)),
                (
                    "first",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="passed",
                        to="inventory.lot",
                    ),
                ),
                (
                    "movement",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="first_in_line",
                        to="inventory.movement",
                    ),
                ),
            ],
        ),
        migrations.AddConstraint(
            model_name="firstinline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("first__isnull", False),
                    models.Q(("days_apart", 0), ("reachable", True), ("why_not", "")),
                    _connector="OR",
                ),
                name="the_first_itself_passes_nobody",
            ),
        ),
    ]
