"""Registers the words of inventory.words under the names templates call them by."""

from collections.abc import Hashable, Iterable, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Any
from uuid import uuid4

from django import template
from django.template import Context
from django.urls import reverse
from django.utils.html import format_html

from inventory import measures
from inventory.keeping import Reference
from inventory.words import (
    advice,
    availability,
    crates,
    crops,
    cutting,
    days,
    field,
    ledger,
    lists,
    loading,
    order_text,
    orders,
    owner,
    rooms,
    scans,
    slips,
    tags,
    units,
    week,
)

register = template.Library()

for name, words in {
    "amount": units.amount_words,
    "signed": units.signed_words,
    "crates": units.crates_words,
    "percent": units.percent_words,
    "days": days.days_words,
    "day": days.day_words,
    "moment": days.moment_words,
    "clock": days.clock_words,
    "time_of_day": days.time_words,
    "weekday": days.weekday_words,
    "month": days.month_words,
    "keeps": crates.keeps_words,
    "days_left": crates.days_left_words,
    "days_over": crates.days_over_words,
    "stands": crates.stands_words,
    "box_words": crates.box_words,
    "key_words": crates.key_words,
    "dated": crates.dated_words,
    "case_dates": crates.case_dates_words,
    "packers_date": crates.packers_date_words,
    "why": crates.why_words,
    "harm_words": crates.harm_words,
    "part_words": crates.part_words,
    "life_parts": crates.life_parts,
    "life_bars": crates.life_bars,
    "reference_words": crates.reference_words,
    "source_words": crates.source_words,
    "evidence_words": crates.evidence_words,
    "group_words": crops.group_words,
    "handbook": crops.handbook_words,
    "search_names": crops.search_names,
    "to_be_cut": cutting.to_be_cut_words,
    "filled_in": cutting.filled_in,
    "cut_day": days.long_weekday_words,
    "whom": cutting.whom_words,
    "weather_words": loading.weather_words,
    "load_words": loading.load_words,
    "sure_words": loading.sure_words,
    "demand_words": loading.demand_words,
    "changed_words": loading.changed_words,
    "part_keeps": availability.part_keeps_words,
    "availability_text": availability.availability_text,
    "availability_sms": availability.availability_sms,
    "turned_out": field.turned_out_words,
    "short_words": orders.short_words,
    "order_words": orders.order_words,
    "lacking_words": orders.lacking_words,
    "late_words": orders.late_words,
    "untold_words": orders.all_untold_words,
    "not_here_words": orders.not_here_words,
    "planned_words": orders.planned_words,
    "short_message": orders.short_message,
    "tel": orders.tel_link,
    "short_sms": orders.short_sms,
    "asked_words": orders.asked_words,
    "wanted_words": orders.wanted_words,
    "keeps_there": slips.keeps_there_words,
    "storing_words": slips.storing_words,
    "slip_name": slips.slip_name,
    "slip_day": slips.slip_day_words,
    "slip_title": slips.slip_title,
    "slip_crates": slips.slip_crates_words,
    "fridge_basis": slips.fridge_basis_words,
    "slip_text": slips.slip_text,
    "credit_words": slips.credit_words,
    "standing_words": slips.standing_words,
    "doubt_words": order_text.doubt_words,
    "hour": orders.hour_words,
    "unit_name": units.unit_name,
    "fridge_caution": orders.fridge_caution,
    "freezing_words": crates.freezing_words,
    "fridge_words": crates.fridge_words,
    "start_words": crates.start_words,
    "happened": ledger.entry_words,
    "change_words": owner.change_words,
    "which_crate": scans.which_crate_words,
    "hangs": tags.hangs_words,
    "place_label": rooms.place_words,
    "choice_words": rooms.choice_words,
    "place_groups": rooms.place_groups,
    "free": rooms.free_words,
    "shares_words": rooms.shares_words,
    "spell_words": rooms.spell_words,
    "air_words": rooms.air_words,
    "alarm_words": rooms.alarm_words,
    "aside_words": rooms.aside_words,
    "taken_back_words": rooms.taken_back_words,
    "shut_door_words": rooms.shut_door_words,
    "headline": advice.headline_words,
    "reason": advice.reason_words,
    "number_name": advice.number_name,
    "said_words": advice.said_words,
    "to_do": advice.to_do_words,
    "moved": advice.moved_words,
    "followed": advice.followed_words,
    "advice_words": rooms.advice_words,
    "crowd_words": rooms.crowd_words,
    "hurt_words": rooms.hurt_words,
    "bad_row_words": rooms.bad_row_words,
    "weekly_words": rooms.weekly_words,
    "ages_words": week.ages_words,
    "week_words": week.week_words,
    "figure_words": week.figure_words,
    "searched": week.searched_words,
    "reason_words": week.reason_words,
    "destination_words": week.destination_words,
    "weight": week.weight_words,
    "signed_weight": week.signed_weight_words,
    "rate": week.rate_words,
    "rate_figure": week.rate_figure,
    "short_day": week.short_day_words,
}.items():
    register.filter(name, words)
register.simple_tag(week.week_query)


@register.filter
def plain(number: Decimal | float | None) -> str:
    """A number without needless zeros."""
    return "" if number is None else measures.plain(number)


@register.filter
def minus(quantity: Decimal, unit: str) -> str:
    """What left, with the sign it adds up with."""
    return units.signed_words(-quantity, unit)


@register.filter
def up_to(low: Decimal | float, high: Decimal | float) -> str:
    """A span of figures, or the one they both are: 7 to 14, 21."""
    return units.span_words(plain(low), plain(high))


@register.simple_tag(takes_context=True)
def degrees(context: Context, celsius: Decimal | float) -> str:
    """A temperature in the farm's unit."""
    return measures.temperature_words(celsius, context["farm"].temperature_unit)


@register.simple_tag(takes_context=True)
def best_degrees(context: Context, reference: Reference) -> str:
    """The recommended temperature of a crop, or its span, in the farm's unit."""
    low, high = reference.temp_low_c, reference.temp_high_c
    return units.span_words(degrees(context, low), degrees(context, high))


@register.simple_tag
def slip_basis() -> str:
    """What the days on a slip mean."""
    return slips.basis_words()


@register.filter
def code(text: str) -> str:
    """A code with its last four, which are enough to find a crate, biggest."""
    return format_html('<span class="code">{}<b>{}</b></span>', text[:-4], text[-4:])


@register.filter
def options(pairs: Iterable[tuple[object, object]], chosen: object) -> str:
    """The lines of a list that opens, the one chosen marked."""
    return lists.options(pairs, (str(chosen),))


@register.filter
def unlocalized(number: float) -> str:
    """A coordinate of a drawing, always with a point."""
    return f"{number:g}"


@register.simple_tag
@lru_cache(maxsize=10_000)
def path_to(name: str, key: Hashable) -> str:
    """The address of a row's own page, as `url` says it, for lists that show the same rows often.

    To work it out anew would take longer than anything else in such a row.
    """
    return reverse(name, args=[key])


@register.simple_tag
def uuid_key() -> str:
    """A new id for a form that stands several times on a page."""
    return str(uuid4())


@register.filter
def get(mapping: Mapping[str, Any], key: object) -> Any:
    """An entry of a mapping, by a key only known in the template."""
    return mapping.get(str(key))
