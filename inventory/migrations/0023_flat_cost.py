"""What is known beforehand, so that no page adds up the farm's past; the indexes for the rest."""

from collections import defaultdict
from decimal import Decimal

import django.db.models.deletion
from django.db import migrations, models


def fill_at_market(apps, schema_editor):
    """Say of each crate whether more of it went to a market than came back or was settled."""
    Movement = apps.get_model("inventory", "Movement")
    rows = (
        Movement.objects.filter(purpose="market", undone_by__isnull=True)
        .exclude(kind="undone")
        .values_list("lot_id", "outlet_id", "other_party", "kind", "amount")
    )
    left = defaultdict(Decimal)
    for code, outlet, to, kind, amount in rows.iterator(chunk_size=5000):
        left[code, outlet or to] += amount if kind == "out" else -amount
    out = sorted({code for (code, _buyer), amount in left.items() if amount > 0})
    for start in range(0, len(out), 500):
        apps.get_model("inventory", "Lot").objects.filter(pk__in=out[start : start + 500]).update(
            at_market=True
        )


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0022_the_watch"),
    ]

    operations = [
        migrations.AddField(
            model_name="farm",
            name="unplaced_room",
            field=models.ForeignKey(
                blank=True,
                help_text="where crates that are not put away count as standing; empty is the first room",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="inventory.room",
            ),
        ),
        migrations.AddField(
            model_name="lot",
            name="at_market",
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name="movement",
            name="aged_days",
            field=models.FloatField(
                blank=True,
                help_text="at the best temperature, as known when it was written",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="temperaturefile",
            name="next_byte",
            field=models.PositiveIntegerField(default=0, help_text="where that row begins"),
        ),
        migrations.AddIndex(
            model_name="action",
            index=models.Index(fields=["person", "recorded_at"], name="action_by_person"),
        ),
        migrations.AddIndex(
            model_name="code",
            index=models.Index(
                models.Func(
                    "text",
                    output_field=models.CharField(max_length=4),
                    template="SUBSTR(%(expressions)s, 4)",
                ),
                name="code_by_tail",
            ),
        ),
        migrations.AddIndex(
            model_name="logchange",
            index=models.Index(fields=["room", "id"], name="log_change_by_room"),
        ),
        migrations.AddIndex(
            model_name="logchange",
            index=models.Index(fields=["recorded_at"], name="log_change_by_time"),
        ),
        migrations.AddIndex(
            model_name="lot",
            index=models.Index(
                condition=models.Q(("at_market", True)), fields=["code"], name="lot_at_market"
            ),
        ),
        migrations.AddIndex(
            model_name="movement",
            index=models.Index(
                condition=models.Q(("kind", "back"), ("purpose", "order")),
                fields=["occurred_at"],
                name="back_from_kitchens",
            ),
        ),
        migrations.AddIndex(
            model_name="intake",
            index=models.Index(fields=["arrived_at"], name="intake_by_arrival"),
        ),
        migrations.AddIndex(
            model_name="intake",
            index=models.Index(fields=["crop", "arrived_at"], name="intake_by_crop"),
        ),
        migrations.AddIndex(
            model_name="order",
            index=models.Index(fields=["due"], name="order_by_day"),
        ),
        migrations.AddIndex(
            model_name="order",
            index=models.Index(
                condition=models.Q(("cancelled_at__isnull", True), ("closed_at__isnull", True)),
                fields=["due"],
                name="order_open",
            ),
        ),
        migrations.AddIndex(
            model_name="order",
            index=models.Index(fields=["closed_at"], name="order_by_closing"),
        ),
        migrations.AddIndex(
            model_name="order",
            index=models.Index(fields=["outlet", "said_at"], name="order_by_buyer"),
        ),
        migrations.AddIndex(
            model_name="roomcheck",
            index=models.Index(fields=["replaced_by", "day"], name="check_by_day"),
        ),
        migrations.AddIndex(
            model_name="roomcheck",
            index=models.Index(
                condition=models.Q(("opens_from_inside", False)),
                fields=["replaced_by", "taken_back_at"],
                name="check_of_a_shut_door",
            ),
        ),
        migrations.RunPython(fill_at_market, migrations.RunPython.noop, elidable=False),
    ]
