"""The date on a case is a best before, a sell by or a use by; earlier ones are of no known kind."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("inventory", "0006_fill_targets")]

    operations = [
        migrations.AddField(
            model_name="intake",
            name="best_before_kind",
            field=models.CharField(
                blank=True,
                choices=[
                    ("", "not known which kind"),
                    ("best before", "best before"),
                    ("sell by", "sell by"),
                    ("use by", "use by"),
                ],
                default="",
                max_length=11,
            ),
        ),
        migrations.AlterField(
            model_name="intake",
            name="best_before",
            field=models.DateField(
                blank=True, help_text="the packer's date, of the kind beside it", null=True
            ),
        ),
        migrations.AddConstraint(
            model_name="intake",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("best_before__isnull", False), ("best_before_kind", ""), _connector="OR"
                ),
                name="only_a_date_has_a_kind",
            ),
        ),
    ]
