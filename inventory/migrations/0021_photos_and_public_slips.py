"""A photo with what a kitchen says, and a page of a delivery for whoever has its slip."""

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
        migrations.AddField(
            model_name="handover",
            name="page_token",
            field=models.CharField(blank=True, max_length=40, null=True, unique=True),
        ),
        migrations.AddField(
            model_name="handover",
            name="page_open",
            field=models.BooleanField(default=True),
        ),
    ]
