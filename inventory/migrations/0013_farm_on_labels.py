"""The farm's address and telephone for labels, and the address each label was printed under."""

from django.db import migrations, models


def fill_addresses(apps, schema_editor):
    """Write beside each print the address that was set at that moment; none where unknown."""
    prints = apps.get_model("inventory", "LabelPrint").objects
    told = _told(apps)
    for printed in prints.order_by("pk").only("pk", "at").iterator():
        address = _set_at(printed.at, told)
        if address:
            prints.filter(pk=printed.pk).update(address=address)


def _told(apps):
    """Return when an address was set, and to what, in that order.

    By the owner's changes, and by when an address was first known, which older farms have alone.
    """
    changes = apps.get_model("inventory", "Change").objects
    changes = changes.filter(subject="farm", field="label_address").order_by("pk")
    known = apps.get_model("inventory", "LabelAddress").objects.values_list("since", "address")
    told = [*known, *changes.values_list("action__recorded_at", "after")]
    return sorted(told, key=lambda change: change[0])


def _set_at(moment, told):
    before = [address for since, address in told if since <= moment]
    return before[-1] if before else ""


class Migration(migrations.Migration):

    dependencies = [("inventory", "0012_plainer_labels")]

    operations = [
        migrations.AddField(
            model_name="farm",
            name="postal_address",
            field=models.CharField(blank=True, default="", max_length=120),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="farm",
            name="telephone",
            field=models.CharField(blank=True, default="", max_length=30),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="labelprint",
            name="address",
            field=models.CharField(blank=True, default="", max_length=80),
        ),
        migrations.RunPython(fill_addresses, migrations.RunPython.noop),
    ]
