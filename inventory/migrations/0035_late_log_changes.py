from datetime import timedelta

from django.db import migrations, models
from django.db.models import F


def tell_the_late(apps, schema_editor):
    changes = apps.get_model("inventory", "LogChange").objects
    changes.filter(since__lt=F("recorded_at") - timedelta(hours=6)).update(late=True)


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0034_week_records"),
    ]

    operations = [
        migrations.RemoveIndex(model_name="logchange", name="log_change_by_time"),
        migrations.AddField(
            model_name="logchange",
            name="late",
            field=models.BooleanField(default=False),
        ),
        migrations.RunPython(tell_the_late, migrations.RunPython.noop),
        migrations.AddIndex(
            model_name="logchange",
            index=models.Index(
                condition=models.Q(("late", True)), fields=["recorded_at"], name="late_log_change"
            ),
        ),
    ]
