"""How many of our crates stand with each buyer is kept; counted once from all that went and came."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models.functions import Coalesce


def count_all(apps, schema_editor):
    """Count for each buyer, and for what waits to be washed, as the pages did until now."""
    handed = apps.get_model("inventory", "Handover").objects
    empties = apps.get_model("inventory", "Empties").objects
    handed = handed.filter(action__undone_by__isnull=True).order_by("action__occurred_at")
    empties = empties.filter(action__undone_by__isnull=True)
    with_buyers, to_wash = {}, []
    for at, buyer, out, back in handed.values_list(
        "action__occurred_at", "order__outlet", "crates_out", "crates_back"
    ):
        with_buyers.setdefault(buyer, []).append((at, out, back))
        if back:
            to_wash.append((at, back, 0))
    for at, buyer, number in empties.values_list("action__occurred_at", "outlet", "number"):
        if buyer:
            with_buyers.setdefault(buyer, []).append((at, 0, number))
        to_wash.append((at, number, 0) if buyer else (at, 0, number))
    counted = {
        buyer: _left(sorted(steps, key=lambda step: step[0])) for buyer, steps in with_buyers.items()
    }
    if to_wash:
        counted[None] = _left(sorted(to_wash, key=lambda step: (step[0], step[2])))
    kept = apps.get_model("inventory", "CratesLeft")
    kept.objects.bulk_create(
        kept(outlet_id=buyer, crates=crates) for buyer, crates in counted.items()
    )


def _left(steps):
    """Return what is left after steps of (time, added, taken away first), never below zero."""
    left = 0
    for _at, added, away in steps:
        left = max(left - away, 0) + added
    return left


class Migration(migrations.Migration):
    dependencies = [("inventory", "0029_suggestions")]

    operations = [
        migrations.CreateModel(
            name="CratesLeft",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("crates", models.PositiveIntegerField()),
                (
                    "outlet",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="inventory.outlet",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(
                        Coalesce("outlet", 0), name="crates_left_are_counted_once"
                    )
                ],
            },
        ),
        migrations.RunPython(count_all, migrations.RunPython.noop),
    ]
