"""Loggers' files that fail again and again, by the notes that are left beside their texts."""

import json
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db.models import F

from inventory.models import TemperatureFile

FAILURES = 3  # what failed so often running is set aside


@dataclass(frozen=True)
class Failure:
    """How often running a file could not be taken up, when last, in seconds since 1970, and why."""

    times: int
    at_s: float
    trouble: str

    @property
    def is_lasting(self) -> bool:
        return self.times >= FAILURES


def failed_files() -> list[tuple[TemperatureFile, str]]:
    """Return the files that fail again and again, and why."""
    found = lasting_failures()
    if not found:
        return []
    files = TemperatureFile.objects.filter(pk__in=found, rows__gt=F("next_row"))
    files = files.select_related("room").order_by("uploaded_at")
    return [(file, found[str(file.pk)].trouble) for file in files]


def lasting_failures() -> dict[str, Failure]:
    """Return what is noted of files that fail again and again, by their keys."""
    found = {note.stem: read_note(note) for note in import_folder().glob("*.failed")}
    return {key: failure for key, failure in found.items() if failure.is_lasting}


def read_note(note: Path) -> Failure:
    return Failure(**json.loads(note.read_text(encoding="utf-8")))


def note_of(file: TemperatureFile) -> Path:
    return import_folder() / f"{file.pk}.failed"


def import_folder() -> Path:
    return settings.DATA_DIR / "imports"
