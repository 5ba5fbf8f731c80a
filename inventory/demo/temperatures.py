"""How cold the rooms were: loggers at all hours, a look in the morning, a power failure."""

from datetime import datetime, timedelta

from inventory.actions.temperatures import check_room, close_alarm, record_readings
from inventory.demo import scenario
from inventory.demo.season import Season
from inventory.models import Reading, Room
from inventory.queries.alarms import open_alarms

PIECE = 12  # readings of a logger, three an hour


def log_temperatures(season: Season) -> None:
    """A logger in each room, three times an hour, and the afternoon the power failed."""
    day = season.now.date() - timedelta(days=scenario.FAILED_DAYS_AGO)
    failed = season.at(day, *scenario.FAILED_AT)
    count = scenario.WEEKS * 7 * 24 * 3
    for room in Room.objects.all():
        moments = [season.now - timedelta(minutes=20 * number) for number in range(count)]
        readings = [(moment, _celsius(season, room, moment, moment - failed)) for moment in moments]
        # As they would have come, a few hours at a time, so that none counts as late.
        for start in range(0, len(readings), PIECE):
            piece = readings[start : start + PIECE]
            record_readings(
                room, piece, kind=Reading.Kind.SENSOR, at=piece[0][0], sensor=f"{room} logger"
            )


def _celsius(season: Season, room: Room, moment: datetime, since_failure: timedelta) -> float:
    """A day's swing, a little noise, a door now and then, and one power failure."""
    hour = moment.astimezone(season.farm.zone).hour
    celsius = float(room.target_c) + (0.5 if 11 <= hour <= 19 else -0.4)
    celsius += season.chance.gauss(0, 0.2)
    if room.target_c < 10 and hour in (8, 13) and season.chance.random() < 0.3:
        celsius += 2.8
    if room.target_c < 10 and timedelta(0) <= since_failure <= scenario.FAILED_FOR:
        celsius = scenario.FAILED_C
    return round(celsius, 1)


def check_rooms(season: Season) -> None:
    """A month of daily checks, some missed; on Mondays the weekly questions too."""
    room = Room.objects.all()[0]
    for back in range(30, 0, -1):
        day = season.today - timedelta(days=back)
        if season.chance.random() < 0.15:
            continue
        weekly = dict.fromkeys(
            ("drip_tray_clean", "thermometer_right", "opens_from_inside"),
            True if day.weekday() == 0 else None,
        )
        act = season.act("Wren", season.at(day, 7))
        celsius = round(season.chance.gauss(3.6, 0.2), 1)
        check_room(act, room=room, celsius=celsius, door_shut=True, odd="", **weekly)


def close_alarms(season: Season, at: datetime) -> None:
    """What was done about the power failure."""
    for alarm in open_alarms(at):
        spell = alarm.excursion
        close_alarm(
            season.act(scenario.OWNER, at),
            room=alarm.room,
            started_at=spell.start,
            ended_at=spell.end,
            side=spell.side,
            peak_c=spell.peak_c,
            done="power failed; generator outside, 5 m off; looked at the greens",
        )
