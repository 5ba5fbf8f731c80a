"""On which day, if any, the week's figures are mailed."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0030_crates_left")]

    operations = [
        migrations.AddField(
            model_name="farm",
            name="week_mail_day",
            field=models.PositiveSmallIntegerField(
                blank=True,
                help_text="0 is Monday; on this day the week's figures are mailed",
                null=True,
            ),
        ),
        migrations.AddConstraint(
            model_name="farm",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("week_mail_day__isnull", True), ("week_mail_day__lte", 6), _connector="OR"
                ),
                name="week_is_mailed_on_a_weekday",
            ),
        ),
    ]
