"""What goes back to its supplier is neither sold nor waste: a purpose of its own."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("inventory", "0010_where_the_farm_is")]

    operations = [
        migrations.AlterField(
            model_name="movement",
            name="purpose",
            field=models.CharField(
                blank=True,
                choices=[
                    ("order", "an order"),
                    ("market", "the market"),
                    ("given", "given away"),
                    ("own use", "own use"),
                    ("sent back", "sent back to the supplier"),
                ],
                max_length=9,
            ),
        ),
        migrations.AddConstraint(
            model_name="movement",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("purpose", "sent back"), _negated=True),
                    models.Q(("outlet", None), models.Q(("other_party", ""), _negated=True)),
                    _connector="OR",
                ),
                name="what_is_sent_back_names_its_supplier",
            ),
        ),
    ]
