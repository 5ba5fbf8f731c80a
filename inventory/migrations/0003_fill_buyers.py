"""Entries written by name get the key of the buyer called so."""

from django.db import migrations


def fill(apps, schema_editor):
    """Give every entry that names a buyer its key. Reversed by dropping the column."""
    movements = apps.get_model("inventory", "Movement").objects
    for outlet in apps.get_model("inventory", "Outlet").objects.all():
        movements.filter(
            kind__in=["out", "back", "settled"], outlet=None, other_party__iexact=outlet.name
        ).update(outlet=outlet)


class Migration(migrations.Migration):

    dependencies = [("inventory", "0002_buyers_by_key")]

    operations = [
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
