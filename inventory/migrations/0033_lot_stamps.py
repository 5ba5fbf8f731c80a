import secrets

from django.db import migrations, models

HERE = ("to put away", "in place")


def stamp_what_is_here(apps, schema_editor):
    lots = apps.get_model("inventory", "Lot").objects
    for code in lots.filter(state__in=HERE).values_list("pk", flat=True):
        lots.filter(pk=code).update(stamp=1 + secrets.randbits(62))


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0032_week_losses"),
    ]

    operations = [
        migrations.AddField(
            model_name="lot",
            name="stamp",
            field=models.BigIntegerField(
                default=0,
                editable=False,
                help_text="another number at each entry, by which memory knows it; 0: not at all",
            ),
        ),
        migrations.RunPython(stamp_what_is_here, migrations.RunPython.noop),
    ]
