"""The target a room has held from the beginning, as far as anybody knows."""

from datetime import UTC, datetime

from django.db import migrations


ALWAYS = datetime(2000, 1, 1, tzinfo=UTC)


def fill(apps, schema_editor):
    """Write down each room's target as its first. Reversed by dropping the table."""
    target = apps.get_model("inventory", "RoomTarget")
    target.objects.bulk_create(
        target(room=room, since=ALWAYS, target_c=room.target_c)
        for room in apps.get_model("inventory", "Room").objects.all()
    )


class Migration(migrations.Migration):

    dependencies = [("inventory", "0005_targets_with_their_times")]

    operations = [
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
