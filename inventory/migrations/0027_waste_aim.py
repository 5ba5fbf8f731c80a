"""How much of what leaves a farm wants to see wasted at most."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0026_market_days"),
    ]

    operations = [
        migrations.AddField(
            model_name="farm",
            name="waste_aim_percent",
            field=models.DecimalField(
                blank=True,
                decimal_places=1,
                help_text="of what leaves, at most so much is to be wasted",
                max_digits=4,
                null=True,
            ),
        ),
        migrations.AddConstraint(
            model_name="farm",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("waste_aim_percent__isnull", True),
                    ("waste_aim_percent__range", (0, 100)),
                    _connector="OR",
                ),
                name="waste_aim_is_a_share",
            ),
        ),
    ]
