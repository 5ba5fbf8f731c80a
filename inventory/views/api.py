"""Readings posted by a sensor or a script: JSON in, JSON out, never a traceback.

    curl -H "Authorization: Bearer TOKEN" -H "Content-Type: application/json" \\
         -d '{"temperature": 3.4}' http://farm.local:8000/api/readings

One reading is {"temperature": 3.4, "unit": "C", "at": "2026-07-31T06:30:00Z"}; at may be left out
(now), and unit (°C) where the farm reads °C: elsewhere 37 might be meant either way. Many are
{"readings": [...]}, at most 2000 at a time.
"""

import json
import math
from datetime import UTC, datetime
from decimal import Decimal

from django.http import HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from inventory import measures
from inventory.actions.temperatures import hash_token, note_post, record_readings
from inventory.errors import Refused
from inventory.models import Reading, Sensor
from inventory.upkeep.mail import queue_alarms
from inventory.views.entry import FarmRequest, public
from inventory.words.refusals import sentence

MOST_READINGS = 2000
MOST_BYTES = 512 * 1024


class _Wrong(ValueError):
    """A body that can't be taken, and why."""


@csrf_exempt
@public
def readings(request: FarmRequest) -> HttpResponse:
    """Take one or many readings of the sensor whose token is sent."""
    if request.method != "POST":
        return _answer(405, "post readings as JSON")
    sensor = _sensor(request.headers.get("Authorization", ""))
    if sensor is None:
        return _answer(401, "no such token, or it was revoked")
    if int(request.headers.get("Content-Length") or 0) > MOST_BYTES:
        return _answer(413, f"at most {MOST_BYTES} bytes at a time")
    at = timezone.now()
    try:
        unit = request.farm.temperature_unit
        rows = [_row(entry, at, unit) for entry in _entries(request.body)]
        recorded = record_readings(
            sensor.room, rows, kind=Reading.Kind.SENSOR, at=at, sensor=sensor.name
        )
        note_post(sensor, at)
    except _Wrong as error:
        return _answer(400, str(error))
    except Refused as refusal:
        return _answer(400, sentence(refusal))
    queue_alarms(at)
    return JsonResponse(
        {
            "added": recorded.added,
            "already_there": recorded.already_there,
            "set_aside": recorded.set_aside,
        }
    )


def _answer(status: int, reason: str) -> JsonResponse:
    return JsonResponse({"error": reason}, status=status)


def _sensor(header: str) -> Sensor | None:
    scheme, _, token = header.partition(" ")
    if scheme.lower() != "bearer" or not token:
        return None
    return (
        Sensor.objects.filter(token_hash=hash_token(token.strip()), revoked_at__isnull=True)
        .select_related("room")
        .first()
    )


def _entries(body: bytes) -> list:
    try:
        found = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise _Wrong("the body is not JSON") from error
    if isinstance(found, dict) and "readings" in found:
        found = found["readings"]
    entries = found if isinstance(found, list) else [found]
    if not entries:
        raise _Wrong("there are no readings in it")
    if len(entries) > MOST_READINGS:
        raise _Wrong(f"at most {MOST_READINGS} readings at a time")
    return entries


def _row(entry: object, at: datetime, farm_unit: str) -> tuple[datetime, float]:
    if not isinstance(entry, dict):
        raise _Wrong("a reading is an object with a temperature")
    figure = entry.get("temperature")
    if isinstance(figure, bool) or not isinstance(figure, int | float) or not _finite(figure):
        raise _Wrong("temperature must be a number")
    unit = entry.get("unit", "C" if farm_unit == "C" else "")
    if unit not in ("C", "F"):
        raise _Wrong('unit must be "C" or "F"')
    celsius = measures.to_celsius(Decimal(str(figure)), unit)
    return _moment(entry.get("at"), at), float(celsius)


def _finite(figure: int | float) -> bool:
    return abs(figure) < 1e6 and math.isfinite(figure)


def _moment(text: object, at: datetime) -> datetime:
    if text is None:
        return at.replace(microsecond=0)
    try:
        moment = datetime.fromisoformat(text)
    except (TypeError, ValueError) as error:
        raise _Wrong("at must be a time like 2026-07-31T06:30:00Z") from error
    if moment.tzinfo is None:
        raise _Wrong("at needs its offset, like Z or +02:00")
    try:
        return moment.astimezone(UTC)
    except OverflowError as error:
        raise _Wrong("at is not a moment this log can hold") from error
