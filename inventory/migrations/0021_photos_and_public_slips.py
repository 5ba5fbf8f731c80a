"""A photo with what a kitchen says."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0020_handing_over"),
    ]

    operations = [
        migrations.AddField(
            model_name="credit",
            name="has_photo",
            field=models.BooleanField(default=False),
        ),
    ]
