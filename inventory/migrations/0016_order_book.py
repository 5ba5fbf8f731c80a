"""The order book: orders that repeat, what was said of each, leases, and more about buyers."""

import django.db.models.deletion
import inventory.models.crops
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0015_orders"),
    ]

    operations = [
        migrations.CreateModel(
            name="Lease",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("quantity", inventory.models.crops.QuantityField(decimal_places=3, max_digits=12)),
                ("until", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="NotThere",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "quantity",
                    inventory.models.crops.QuantityField(
                        decimal_places=3, help_text="how much of it was to be taken", max_digits=12
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="OrderEntry",
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
                        choices=[
                            ("said", "order written"),
                            ("changed", "order changed"),
                            ("closed", "order done"),
                            ("reopened", "order opened again"),
                            ("cancelled", "order cancelled"),
                            ("told", "buyer told what is missing"),
                            ("repeats", "order repeats every week"),
                            ("ends", "order repeats no more"),
                        ],
                        max_length=9,
                    ),
                ),
                ("before", models.JSONField(blank=True, default=dict)),
                ("after", models.JSONField(blank=True, default=dict)),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="StandingLine",
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
                ("asked", models.CharField(blank=True, max_length=40)),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="StandingOrder",
            fields=[
                ("id", models.UUIDField(primary_key=True, serialize=False)),
                (
                    "starts",
                    models.DateField(help_text="its first day; the others are whole weeks later"),
                ),
                ("ends", models.DateField(blank=True, null=True)),
                ("said_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["said_at"],
            },
        ),
        migrations.AlterModelOptions(
            name="order",
            options={"ordering": ["due", "said_at"]},
        ),
        migrations.RemoveConstraint(
            model_name="orderline",
            name="a_line_wants_something",
        ),
        migrations.AddField(
            model_name="order",
            name="cancelled_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="orderline",
            name="asked",
            field=models.CharField(blank=True, max_length=40),
        ),
        migrations.AddField(
            model_name="orderline",
            name="told",
            field=inventory.models.crops.QuantityField(decimal_places=3, default=0, max_digits=12),
        ),
        migrations.AddField(
            model_name="crop",
            name="price",
            field=models.DecimalField(
                blank=True,
                decimal_places=2,
                help_text="of one of its unit",
                max_digits=10,
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="outlet",
            name="address",
            field=models.CharField(blank=True, max_length=160),
        ),
        migrations.AddField(
            model_name="outlet",
            name="by_time",
            field=models.TimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="outlet",
            name="cut_off_days",
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="outlet",
            name="delivery_days",
            field=models.CharField(blank=True, max_length=7),
        ),
        migrations.AddField(
            model_name="outlet",
            name="freshest",
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name="outlet",
            name="one_more",
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name="outlet",
            name="telephone",
            field=models.CharField(blank=True, max_length=30),
        ),
        migrations.AddField(
            model_name="outlet",
            name="way_hours",
            field=models.DecimalField(decimal_places=1, default=0, max_digits=4),
        ),
        migrations.AddField(
            model_name="outlet",
            name="whole_crates",
            field=models.BooleanField(default=False),
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
                ],
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="firstinline",
            name="why_not",
            field=models.CharField(
                blank=True,
                choices=[
                    ("refused", "the buyer does not take its kind"),
                    ("too old", "it would not keep long enough there"),
                    ("promised", "it is planned for another order"),
                ],
                max_length=8,
            ),
        ),
        migrations.AlterField(
            model_name="outlet",
            name="fridge_c",
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=5, null=True),
        ),
        migrations.AlterField(
            model_name="outlet",
            name="kind",
            field=models.CharField(
                choices=[
                    ("kitchen", "kitchen"),
                    ("market", "market"),
                    ("shares", "share boxes"),
                    ("stand", "farm stand"),
                    ("shop", "shop"),
                ],
                default="kitchen",
                max_length=8,
            ),
        ),
        migrations.AlterField(
            model_name="outlet",
            name="minimum_days",
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name="take",
            name="stood",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, to="inventory.position"
            ),
        ),
        migrations.AddConstraint(
            model_name="orderline",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity__gte", 0)), name="a_line_wants_no_less_than_0"
            ),
        ),
        migrations.AddField(
            model_name="lease",
            name="line",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE,
                related_name="leases",
                to="inventory.orderline",
            ),
        ),
        migrations.AddField(
            model_name="lease",
            name="lot",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="leases",
                to="inventory.lot",
            ),
        ),
        migrations.AddField(
            model_name="lease",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="notthere",
            name="line",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE,
                related_name="not_there",
                to="inventory.orderline",
            ),
        ),
        migrations.AddField(
            model_name="notthere",
            name="lot",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="not_there",
                to="inventory.lot",
            ),
        ),
        migrations.AddField(
            model_name="notthere",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="notthere",
            name="stood",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, to="inventory.position"
            ),
        ),
        migrations.AddField(
            model_name="orderentry",
            name="action",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="order_entry",
                to="inventory.action",
            ),
        ),
        migrations.AddField(
            model_name="orderentry",
            name="order",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="entries",
                to="inventory.order",
            ),
        ),
        migrations.AddField(
            model_name="standingline",
            name="crop",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, to="inventory.crop"
            ),
        ),
        migrations.AddField(
            model_name="standingorder",
            name="outlet",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, to="inventory.outlet"
            ),
        ),
        migrations.AddField(
            model_name="standingorder",
            name="said_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="standingline",
            name="standing",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE,
                related_name="lines",
                to="inventory.standingorder",
            ),
        ),
        migrations.AddField(
            model_name="order",
            name="standing",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                to="inventory.standingorder",
            ),
        ),
        migrations.AddConstraint(
            model_name="order",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("closed_at__isnull", True), ("cancelled_at__isnull", True), _connector="OR"
                ),
                name="an_order_is_closed_or_cancelled_not_both",
            ),
        ),
        migrations.AddConstraint(
            model_name="lease",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity__gt", 0)), name="a_lease_is_of_something"
            ),
        ),
        migrations.AddConstraint(
            model_name="lease",
            constraint=models.UniqueConstraint(
                fields=("line", "lot", "person"), name="one_lease_a_line_crate_and_person"
            ),
        ),
        migrations.AddConstraint(
            model_name="standingline",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity__gt", 0)), name="a_standing_line_wants_something"
            ),
        ),
        migrations.AddConstraint(
            model_name="standingline",
            constraint=models.UniqueConstraint(
                fields=("standing", "crop", "unit"), name="one_standing_line_per_crop_and_unit"
            ),
        ),
    ]
