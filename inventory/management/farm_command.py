"""What every command does alike where the ground gives way: a sentence, no traceback."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection
from django.utils import translation

from coldroom.faults import CannotStart
from inventory.upkeep.ground import need_sound_database, what_gave_way
from inventory.words.ground import ground_words


class FarmCommand(BaseCommand):
    """A command on the farm's data.

    needs_sound_database: it is looked at before anything opens it, which would make a farm of an
    empty file.
    """

    needs_sound_database = True

    def execute(self, *args: Any, **options: Any) -> str | None:
        try:
            if self.needs_sound_database:
                need_sound_database(connection)
            return super().execute(*args, **options)
        except CannotStart as fault:
            raise CommandError(str(fault)) from fault
        except (OSError, DatabaseError) as error:
            kind = what_gave_way(error)
            if not kind:
                raise
            if kind == "shut" and _is_elsewhere(error):
                raise CommandError(str(error)) from error
            raise CommandError(f"{in_both_languages(kind)}\n({error})") from error


def _is_elsewhere(error: Exception) -> bool:
    """Return whether an error is about a file that is none of the data folder, as one named."""
    name = error.filename if isinstance(error, OSError) else None
    return name is not None and not Path(str(name)).absolute().is_relative_to(settings.DATA_DIR)


def in_both_languages(kind: str) -> str:
    """Return what is said where the ground gives way: nobody knows yet who reads it."""
    said = []
    for language in ("en", "es"):
        with translation.override(language):
            said.append(ground_words(kind))
    return "\n".join(said)
