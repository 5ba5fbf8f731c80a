"""Orders are due on the day they were planned; open promises go, as the plan makes them anew."""

from zoneinfo import ZoneInfo

from django.db import migrations
from django.db.models import F

# What the program filled in for a buyer before anybody could leave it open.
_FILLED_IN = {"fridge_c": 4, "minimum_days": 0}


def fill(apps, schema_editor):
    _fill_due(apps)
    _call_told(apps)
    _keep_not_there(apps)
    apps.get_model("inventory", "Take").objects.filter(taken=None).delete()
    _open_what_nobody_set(apps)


def _fill_due(apps):
    farm = apps.get_model("inventory", "Farm").objects.first()
    for order in apps.get_model("inventory", "Order").objects.filter(due=None).iterator():
        order.due = order.said_at.astimezone(ZoneInfo(farm.time_zone)).date()
        order.save(update_fields=["due"])


def _call_told(apps):
    """What an order lacked that was finished before anybody could say so is not asked about."""
    lines = apps.get_model("inventory", "OrderLine").objects.exclude(order__closed_at=None)
    lines.update(told=F("quantity"))


def _keep_not_there(apps):
    """A crate looked for in vain goes on being so until somebody sees it."""
    takes = apps.get_model("inventory", "Take").objects.filter(missing=True)
    rows = takes.exclude(missing_at=None).select_related("line__order")
    apps.get_model("inventory", "NotThere").objects.bulk_create(
        apps.get_model("inventory", "NotThere")(
            lot_id=take.lot_id,
            line_id=take.line_id,
            person_id=take.line.order.said_by_id,
            at=take.missing_at,
            quantity=take.quantity,
            stood_id=take.stood_id,
        )
        for take in rows
    )


def _open_what_nobody_set(apps):
    """Leave open again what stands on a buyer only because the program filled it in."""
    changes = apps.get_model("inventory", "Change").objects.filter(subject="outlet")
    outlets = apps.get_model("inventory", "Outlet").objects
    for field, filled_in in _FILLED_IN.items():
        said = changes.filter(field=field).values_list("key", flat=True)
        keys = [int(key) for key in said if key.isdecimal()]
        outlets.filter(**{field: filled_in}).exclude(pk__in=keys).update(**{field: None})


class Migration(migrations.Migration):
    dependencies = [("inventory", "0016_order_book")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
