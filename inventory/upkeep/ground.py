"""What the program stands on: the disk, the data folder, the database, the clock."""

import errno
import re
import shutil
from datetime import datetime, timedelta
from pathlib import Path

from django.db import DatabaseError, OperationalError
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Max

from coldroom.faults import CannotStart
from inventory.models import Action

# Below this the next write may fail. [bytes]
LEAST_FREE = 20 * 1024 * 1024
CLOCK_DIFFERS = timedelta(minutes=10)
_ERRNOS = {
    errno.ENOSPC: "full",
    errno.EDQUOT: "full",
    errno.EROFS: "shut",
    errno.EACCES: "shut",
    errno.EPERM: "shut",
}
# What the databases say, in the words of their messages, and what that means.
_SIGNS = (
    ("disk is full", "full"),
    ("no space left", "full"),
    ("readonly database", "shut"),
    ("read-only", "shut"),
    ("unable to open database", "shut"),
    ("is locked", "busy"),
    ("lock timeout", "busy"),
    ("malformed", "broken"),
    ("not a database", "broken"),
    ("disk i/o error", "broken"),
    ("connection", "silent"),
    ("no such table", "bare"),
)
# As PostgreSQL says that; other faults name a relation too.
_NO_SUCH_RELATION = re.compile(r'relation "inventory_\w+" does not exist')


def what_gave_way(error: BaseException | None) -> str:
    """Return what an error comes from, a key of words/ground.ground_words; "" where it is ours."""
    while error is not None:
        if isinstance(error, OSError) and error.errno in _ERRNOS:
            return _ERRNOS[error.errno]
        if isinstance(error, DatabaseError):
            said = str(error).lower()
            bare = "bare" if _NO_SUCH_RELATION.match(said) else ""
            found = bare or next((kind for sign, kind in _SIGNS if sign in said), "")
            if found:
                return found
        error = error.__cause__ or error.__context__
    return ""


def disk_is_full(folder: Path) -> bool:
    return shutil.disk_usage(folder).free < LEAST_FREE


def need_sound_database(connection: BaseDatabaseWrapper) -> None:
    """Raise CannotStart for a file that is empty, no database, or damaged; the rest is asked later.

    An empty one would silently become a new farm.
    """
    if connection.vendor != "sqlite":
        return
    file = Path(connection.settings_dict["NAME"])
    if not file.exists():
        return
    if file.stat().st_size == 0:
        raise _unsound(file, "is empty (0 bytes)", "está vacía (0 bytes)")
    try:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA quick_check(1)")
            said = cursor.fetchone()[0]
    except OperationalError:
        raise
    except DatabaseError as error:
        raise _unsound(file, f"can't be read ({error})", f"no se puede leer ({error})") from error
    if said != "ok":
        raise _unsound(file, f"is damaged ({said})", f"está dañada ({said})")


def _unsound(file: Path, english: str, spanish: str) -> CannotStart:
    return CannotStart(
        f"The database {file} {english}. Nothing was changed. Put the newest copy in its place "
        f"(see the folder {file.parent / 'copies'}); to begin with a new farm, move the file away.",
        f"La base de datos {file} {spanish}. No se cambió nada. Pon la copia más nueva en su "
        f"lugar (mira la carpeta {file.parent / 'copies'}); para empezar con un rancho nuevo, "
        "quita el archivo de ahí.",
    )


def written_ahead(at: datetime) -> datetime | None:
    """Return when the latest entry was written, if that is still to come by this clock."""
    latest = Action.objects.aggregate(latest=Max("recorded_at"))["latest"]
    return latest if latest is not None and latest - at > CLOCK_DIFFERS else None
