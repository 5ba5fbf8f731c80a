"""What a room is to be kept at holds from a moment on."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("inventory", "0004_who_should_have_gone_first")]

    operations = [
        migrations.CreateModel(
            name="RoomTarget",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("since", models.DateTimeField()),
                ("target_c", models.DecimalField(decimal_places=2, max_digits=5)),
                (
                    "room",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="targets",
                        to="inventory.room",
                    ),
                ),
            ],
            options={"ordering": ["room", "since"]},
        ),
        migrations.AddConstraint(
            model_name="roomtarget",
            constraint=models.UniqueConstraint(
                fields=("room", "since"), name="one_target_per_room_and_moment"
            ),
        ),
    ]
