"""What the owner set, in words."""

from decimal import Decimal
from math import floor

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from inventory import measures
from inventory.keeping import Reference
from inventory.learning import Estimate
from inventory.models import Change, Farm
from inventory.words.units import span_words

# By the name of the field; one that is not here is shown by that name.
_FIELDS = {
    "added": gettext_lazy("added"),
    "address": gettext_lazy("address"),
    "alarm_done": gettext_lazy("alarm open again; closed before with"),
    "alarm_after_h": gettext_lazy("warns after hours"),
    "band_c": gettext_lazy("degrees up or down that are fine"),
    "best_before_kind": gettext_lazy("kind of the packer's date"),
    "by_time": gettext_lazy("there by"),
    "capacity": gettext_lazy("crates it holds"),
    "cold_spot": gettext_lazy("known cold spot"),
    "cut_off_days": gettext_lazy("days before that they order"),
    "damp": gettext_lazy("damp air"),
    "delivery_days": gettext_lazy("delivery days"),
    "freshest": gettext_lazy("gets the freshest"),
    "fridge_c": gettext_lazy("their fridge"),
    "grown": gettext_lazy("grown or bought"),
    "half_cooling_h": gettext_lazy("hours to lose half its field heat"),
    "harvest_days": gettext_lazy("harvest days"),
    "in_use": gettext_lazy("in use"),
    "is_active": gettext_lazy("works here"),
    "keeping_days": gettext_lazy("the farm's own keeping days"),
    "kind": gettext_lazy("kind"),
    "label_address": gettext_lazy("address on labels"),
    "label_h_mm": gettext_lazy("height of a label in mm"),
    "label_stock": gettext_lazy("labels"),
    "label_w_mm": gettext_lazy("width of a label in mm"),
    "language": gettext_lazy("language"),
    "lead_days": gettext_lazy("days from the order to the delivery"),
    "least_on_table": gettext_lazy("least on the table"),
    "minimum_days": gettext_lazy("days it must still keep there"),
    "most_crates_a_day": gettext_lazy("most crates to be cut on a day"),
    "name": gettext_lazy("name"),
    "not_before": gettext_lazy("not to be harvested before"),
    "not_before_reason": gettext_lazy("because of"),
    "nudge_x_mm": gettext_lazy("moved right by mm"),
    "nudge_y_mm": gettext_lazy("moved down by mm"),
    "one_more": gettext_lazy("rather one crate too many"),
    "organic": gettext_lazy("organic"),
    "organic_only": gettext_lazy("takes only organic"),
    "own_grown_only": gettext_lazy("takes only what we grew ourselves"),
    "page_open": gettext_lazy("page of this delivery slip, open to whoever has it"),
    "password": gettext_lazy("password"),
    "piece_weight_kg": gettext_lazy("weight of one piece or bunch in kg"),
    "pin": gettext_lazy("PIN"),
    "pin_required": gettext_lazy("PIN asked when a phone changes hands"),
    "postal_address": gettext_lazy("postal address"),
    "price": gettext_lazy("price of one"),
    "region": gettext_lazy("where the farm is"),
    "removed": gettext_lazy("taken off the list"),
    "revoked_at": gettext_lazy("posts no more"),
    "role": gettext_lazy("role"),
    "sell_first_days": gettext_lazy("sell first from days left"),
    "tare_kg": gettext_lazy("empty weight in kg"),
    "signed_in": gettext_lazy("signed in with the"),
    "tags_made": gettext_lazy("the first of so many tags made:"),
    "target_c": gettext_lazy("kept at"),
    "telephone": gettext_lazy("telephone"),
    "temperature_unit": gettext_lazy("temperatures in"),
    "time_zone": gettext_lazy("time zone"),
    "unit": gettext_lazy("usual unit"),
    "usually_sells": gettext_lazy("usually sells"),
    "unpaired_at": gettext_lazy("unpaired"),
    "unplaced_room": gettext_lazy("where crates not put away count"),
    "waste_aim_percent": gettext_lazy("most to be wasted of what leaves, in %"),
    "way_hours": gettext_lazy("hours without cold on the way"),
    "week_mail_day": gettext_lazy("day the week is mailed"),
    "week_start": gettext_lazy("first day of the week"),
    "weight_unit": gettext_lazy("weights in"),
    "whole_crates": gettext_lazy("takes whole crates only"),
}
_VALUES = {
    "no": gettext_lazy("no"),
    "password": gettext_lazy("password"),
    "PIN": gettext_lazy("PIN"),
    "set": gettext_lazy("set"),
    "yes": gettext_lazy("yes"),
}
_DEGREES = ("target_c", "fridge_c")


def change_words(change: Change, farm: Farm) -> str:
    """Return what was set, of what, from what to what."""
    facts = {
        "name": change.name,
        "field": _FIELDS.get(change.field, change.field),
        "before": _value(change, change.before, farm),
        "after": _value(change, change.after, farm),
    }
    if change.field in ("added", "removed", "revoked_at", "unpaired_at"):
        return _("%(name)s: %(field)s") % facts
    if change.field == "alarm_done":
        return _("%(name)s: %(field)s “%(before)s”") % facts
    if change.after == "set" or change.field in ("signed_in", "tags_made"):
        return _("%(name)s: %(field)s %(after)s") % facts
    return _("%(name)s: %(field)s, %(before)s → %(after)s") % facts


def _value(change: Change, kept: str, farm: Farm) -> str:
    if not kept:
        return "–"
    if change.field in _DEGREES:
        return measures.temperature_words(Decimal(kept), farm.temperature_unit)
    return str(_choices(change).get(kept, _VALUES.get(kept, kept)))


def _choices(change: Change) -> dict[str, object]:
    """Return the choices of the field that was set, as they are kept, with their words."""
    if change.field in ("week_start", "week_mail_day"):
        return {str(day): words for day, words in WEEKDAYS.items()}
    model = apps.get_model("inventory", change.subject)
    try:
        return dict(model._meta.get_field(change.field).flatchoices)
    except FieldDoesNotExist:
        return {}


def record_words(found: Estimate, published: Reference) -> str:
    """Return what the farm's own record of a crop says, beside the handbook."""
    if not found.crates:
        return _("Nothing yet.")
    counts = _counted(found)
    if found.low_days is None or found.high_days is None:
        return _never_gone(found, counts)
    facts = {
        "here": span_words(
            measures.plain(floor(found.low_days)), measures.plain(floor(found.high_days))
        ),
        "handbook": span_words(
            measures.plain(published.life_low_days), measures.plain(published.life_high_days)
        ),
        "counts": counts,
    }
    return _("%(here)s days (handbook %(handbook)s), from %(counts)s") % facts


def _never_gone(found: Estimate, counts: str) -> str:
    if found.at_least is None:
        return _("Too little to tell yet, from %(counts)s") % {"counts": counts}
    days = floor(found.at_least)
    facts = {"days": days, "counts": counts}
    return (
        ngettext(
            "At least %(days)d day, from %(counts)s",
            "At least %(days)d days, from %(counts)s",
            days,
        )
        % facts
    )


def _counted(found: Estimate) -> str:
    parts = {
        "harvests": ngettext("%d harvest", "%d harvests", found.harvests) % found.harvests,
        "crates": ngettext("%d crate", "%d crates", found.crates) % found.crates,
        "gone": ngettext("%d harvest gone", "%d harvests gone", found.harvests_gone)
        % found.harvests_gone,
    }
    return _("%(harvests)s, %(crates)s; %(gone)s") % parts
