"""What a person answers to "Still good?", and that only the list had said to throw it out."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("inventory", "0008_tags_and_changes_are_entries")]

    operations = [
        migrations.AlterField(
            model_name="movement",
            name="judgement",
            field=models.CharField(
                blank=True,
                choices=[
                    ("fine", "still good"),
                    ("just", "only just good"),
                    ("early", "no longer good"),
                ],
                max_length=5,
            ),
        ),
        migrations.AlterField(
            model_name="movement",
            name="reason",
            field=models.CharField(
                blank=True,
                choices=[
                    ("spoiled", "rotten or slimy"),
                    ("wilted", "wilted"),
                    ("yellowed", "yellowed or overripe"),
                    ("froze", "froze"),
                    ("chilled", "hurt by cold"),
                    ("damaged", "bruised or broken"),
                    ("pests", "pests"),
                    ("unsafe", "dirty or doubtful"),
                    ("unsold", "good, but not sold"),
                    ("culled", "culled at sorting"),
                    ("list said", "the list said so"),
                    ("other", "other"),
                ],
                max_length=9,
            ),
        ),
    ]
