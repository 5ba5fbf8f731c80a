"""Rooms in words: places, spells out of range, alarms, checks, bad neighbours, bad rows."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory import measures
from inventory.keeping.log import Side
from inventory.models import Farm, Position, ProbeReading, Reading, RoomCheck
from inventory.queries.alarms import Alarm
from inventory.queries.neighbours import Advice
from inventory.queries.put_down import Crowd, Hurt
from inventory.queries.rooms import Choice, Share
from inventory.queries.temperatures import AirNow, Spell
from inventory.words.crates import harm_words
from inventory.words.days import hours_words, lost_words, moment_words


def place_words(position: Position) -> str:
    return f"{position.room} {position.name}"


def free_words(count: int) -> str:
    """Return how many more crates a place holds."""
    return ngettext("%(n)s free", "%(n)s free", count) % {"n": count}


def choice_words(choice: Choice) -> str:
    """Return what the button of a place says of it: whether it hurts, what it holds, why there."""
    if choice.harm:
        words = harm_words(choice.harm)
    else:
        words = free_words(choice.free) if choice.free else _("full")
    if choice.suggested:
        why = _("good")
    elif choice.shorter and not choice.harm:
        why = _("keeps less long")
    else:
        why = _("same crop") if choice.same else ""
    return f"{words} · {why}" if why else words


def place_groups(choices: list[Choice]) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return places to choose from, by key and in words: those suggested, then the rest."""
    good = [one for one in choices if one.suggested]
    rest = [one for one in choices if not one.suggested]
    return [
        (_("Good places"), [(one.position.pk, _roomy_words(one)) for one in good]),
        (_("All places"), [(one.position.pk, _standing_words(one)) for one in rest]),
    ]


def _roomy_words(choice: Choice) -> str:
    return f"{place_words(choice.position)} ({free_words(choice.free)})"


def _standing_words(choice: Choice) -> str:
    """Return a place with what speaks against it."""
    words = place_words(choice.position)
    if choice.harm:
        return f"{words}: {harm_words(choice.harm)}"
    return words if choice.free else f"{words}: {_('full')}"


def shares_words(shares: list[Share]) -> str:
    """Return how many crates go to which place; the room is named where they go to several."""
    rooms = {share.position.room_id for share in shares}
    return ", ".join(
        f"{share.position.name if len(rooms) == 1 else place_words(share.position)}: {share.crates}"
        for share in shares
    )


def spell_words(spell: Spell, farm: Farm) -> str:
    """Return one spell out of range: how long, when, and what it cost."""
    limit = measures.temperature_words(spell.limit_c, farm.temperature_unit)
    facts = {
        "limit": limit,
        "hours": hours_words(spell.hours),
        "when": moment_words(spell.start),
    }
    words = {
        "warm": _("Above %(limit)s for %(hours)s from %(when)s."),
        "cold": _("Below %(limit)s for %(hours)s from %(when)s."),
    }[spell.side] % facts
    costs = [f"{crop.shown_name} {lost_words(hours)}" for crop, hours in spell.cost]
    if costs:
        words += " " + _("It cost: %s.") % ", ".join(costs)
    return words


def air_words(air: AirNow) -> str:
    """Return whether a room is as it should be, with a mark."""
    return {
        Side.WARM: _("! too warm"),
        Side.COLD: _("! too cold"),
        None: "✓",
    }[air.side]


def alarm_words(alarm: Alarm) -> str:
    """Return a room out of range for too long: for how long now, or from when it was."""
    facts = {"room": alarm.room, "h": alarm.hours, "when": moment_words(alarm.started_at)}
    return {
        ("warm", True): _("%(room)s: too warm for %(h)s h"),
        ("cold", True): _("%(room)s: too cold for %(h)s h"),
        ("warm", False): _("%(room)s: was too warm for %(h)s h from %(when)s"),
        ("cold", False): _("%(room)s: was too cold for %(h)s h from %(when)s"),
    }[alarm.excursion.side, alarm.going_on] % facts


def shut_door_words(check: RoomCheck) -> str:
    """Return whose door does not open from inside."""
    return _("%(room)s: the door does not open from inside.") % {"room": check.room}


def advice_words(advice: Advice) -> str:
    """Return what stands badly, and why."""
    takers = ", ".join(crop.shown_name for crop in advice.takers)
    names = {"giver": advice.giver.shown_name, "taker": takers}
    return {
        "ethylene": _("Ripening gas of %(giver)s ages: %(taker)s."),
        "odour": _("The smell of %(giver)s goes into: %(taker)s."),
        "cold": _("This room is too cold for %(taker)s: the cold hurts it."),
        "dry": _("%(taker)s keeps dry; this room is damp."),
        "stone-fruit": _(
            "%(taker)s spoils inside fastest at 2 to 8 °C: colder or warmer is better."
        ),
    }[advice.kind] % names


def crowd_words(crowd: Crowd) -> str:
    """Return that more crates stand at a place than it holds."""
    facts = {
        "place": crowd.position.name,
        "all": crowd.position.capacity,
        "n": crowd.standing,
    }
    return _("%(place)s holds %(all)s; %(n)s crates stand there now.") % facts


def hurt_words(hurt: Hurt) -> str:
    """Return what a place does to the crop that was put there."""
    return _("%(place)s: %(harm)s.") % {
        "place": hurt.position.name,
        "harm": harm_words(hurt.harm),
    }


def aside_words(reading: Reading) -> str:
    """Return why a reading counts for nothing."""
    if reading.taken_back_by is not None:
        return taken_back_words(reading)
    if reading.set_aside == Reading.Aside.WRONG:
        return _("taken back, or called wrong")
    return str(reading.get_set_aside_display())


def taken_back_words(done: Reading | ProbeReading | RoomCheck) -> str:
    """Return who took something back."""
    return _("taken back by %(name)s") % {"name": done.taken_back_by}


def bad_row_words(reason: str) -> str:
    """Return why a row of a logger's file was not taken up."""
    return {
        "short": _("columns are missing"),
        "time": _("no date and time"),
        "figure": _("no temperature"),
        "missing-hour": _("an hour the clocks skipped"),
        "when": _("still to come, or years ago"),
    }[reason]


def weekly_words(check: RoomCheck) -> str:
    """Return the weekly questions of a daily check that were answered."""
    answers = (
        (_("drip tray"), check.drip_tray_clean),
        (_("thermometer"), check.thermometer_right),
        (_("opens from inside"), check.opens_from_inside),
    )
    told = [f"{name} {'✓' if good else '✗'}" for name, good in answers if good is not None]
    return ", ".join(told)
