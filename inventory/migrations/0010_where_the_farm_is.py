"""Where the farm is decides how its days and times are said; farms that run see no change."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("inventory", "0009_still_good")]

    operations = [
        migrations.AddField(
            model_name="farm",
            name="region",
            field=models.CharField(
                choices=[
                    ("us", "United States: 2:05 PM, Nov 25"),
                    ("elsewhere", "elsewhere: 14:05, 25 Nov"),
                ],
                default="elsewhere",
                max_length=9,
            ),
        ),
    ]
