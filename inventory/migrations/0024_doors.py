"""Which doing made a tag; which phones several use; wrong guesses counted anew."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import F, Value
from django.db.models.functions import Concat


def find_shared(apps, schema_editor):
    actions = apps.get_model("inventory", "Action").objects.exclude(person=F("phone__paired_by"))
    phones = apps.get_model("inventory", "Phone").objects
    phones.filter(pk__in=actions.filter(phone__isnull=False).values("phone")).update(shared=True)


def count_anew(apps, schema_editor):
    """A row of a phone now says that somebody is known there; the old ones did not."""
    counted = apps.get_model("inventory", "Guess").objects.filter(device__startswith="phone-")
    counted.update(device=Concat(Value("old-"), F("device")))


def count_on(apps, schema_editor):
    for row in apps.get_model("inventory", "Guess").objects.filter(device__startswith="old-"):
        row.device = row.device.removeprefix("old-")
        row.save()


class Migration(migrations.Migration):
    dependencies = [("inventory", "0023_flat_cost")]

    operations = [
        migrations.AddField(
            model_name="tag",
            name="made_in",
            field=models.ForeignKey(
                blank=True,
                help_text="empty of the oldest",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                to="inventory.action",
            ),
        ),
        migrations.AddField(
            model_name="phone",
            name="shared",
            field=models.BooleanField(
                default=False, help_text="more than one person has used it"
            ),
        ),
        migrations.RunPython(find_shared, migrations.RunPython.noop),
        migrations.RunPython(count_anew, count_on),
    ]
