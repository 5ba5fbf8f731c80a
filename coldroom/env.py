"""The switches a farm can set from outside, each an environment variable with a safe default."""

import contextlib
import errno
import os
import secrets
import tempfile
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote, urlsplit

from coldroom.faults import CannotStart


def data_folder() -> Path:
    """Return the folder that holds all of the farm's data, making it if needed.

    COLDROOM_DATA names it; otherwise it is coldroom-data in the user's home, where a person
    looking for something to back up will find it. Nobody else on the machine may look into it.
    Raises CannotStart.
    """
    folder = Path(text("COLDROOM_DATA") or Path.home() / "coldroom-data")
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise _no_folder(folder, error.strerror) from error
    if not os.access(folder, os.W_OK | os.X_OK):
        raise _no_folder(folder, os.strerror(errno.EACCES))
    _keep_others_out(folder)
    return folder.resolve()


def _no_folder(folder: Path, why: str | None) -> CannotStart:
    return CannotStart(
        f"The data folder {folder} can't be used: {why}. Give it to the user who runs this "
        "program, or name another one with COLDROOM_DATA.",
        f"La carpeta de datos {folder} no se puede usar: {why}. Dásela al usuario que corre este "
        "programa, o nombra otra con COLDROOM_DATA.",
    )


def _keep_others_out(folder: Path) -> None:
    """Close a folder that was made beforehand; what lies in it is closed by that."""
    if folder.stat().st_mode & 0o077:
        with contextlib.suppress(PermissionError):  # somebody else's, but open to us
            folder.chmod(0o700)


def secret_key(folder: Path) -> str:
    """Return this installation's secret key, made on first use and kept in the data folder."""
    return kept_secret(folder / "secret-key", lambda: secrets.token_urlsafe(50))


def kept_secret(file: Path, make: Callable[[], str]) -> str:
    """Return the text of a file only its owner can read, written once from make().

    Raises CannotStart where it is empty, or can be neither read nor written.
    """
    try:
        if not file.exists():
            _write_whole(file, make())
        secret = file.read_text(encoding="ascii").strip()
    except OSError as error:
        why = error.strerror or error
        raise CannotStart(
            f"The file {file} can't be used: {why}. Make room on the disk, or give the file to the "
            "user who runs this program.",
            f"El archivo {file} no se puede usar: {why}. Haz lugar en el disco, o dale el archivo "
            "al usuario que corre este programa.",
        ) from error
    if not secret:
        raise CannotStart(
            f"The file {file} is empty: writing it was cut off. Put back the one of a copy. "
            "Without one, delete it and start again: a new one is made, and everybody signs in "
            "once more.",
            f"El archivo {file} está vacío: se cortó al escribirlo. Pon el de una copia. Si no "
            "hay, bórralo y arranca otra vez: se hace uno nuevo, y todos entran de nuevo.",
        )
    return secret


def database_url(name: str) -> str:
    """Return DATABASE_URL with the name of another database on the same server."""
    parts = urlsplit(text("DATABASE_URL"))
    options = f"?{parts.query}" if parts.query else ""
    return f"{parts.scheme}://{parts.netloc}/{quote(name, safe='')}{options}"


def _write_whole(file: Path, secret: str) -> None:
    """Write a file that is there whole or not at all, even after a power cut."""
    descriptor, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}-")
    try:
        with os.fdopen(descriptor, "w", encoding="ascii") as out:
            out.write(secret)
            out.flush()
            os.fsync(out.fileno())
        _name_once(name, file)
    finally:
        Path(name).unlink(missing_ok=True)


def _name_once(name: str, file: Path) -> None:
    try:
        os.link(name, file)
    except FileExistsError:
        return  # another process was first: its secret counts
    except OSError:
        os.replace(name, file)  # a file system without links


def text(name: str, default: str = "") -> str:
    """Return a variable as it stands, or the default where it is empty."""
    return os.environ.get(name) or default


def flag(name: str) -> bool:
    """Return whether an on/off variable is on; anything but a plain yes or no is an error."""
    said = text(name).strip().lower()
    if said in {"", "0", "no", "off", "false"}:
        return False
    if said in {"1", "yes", "on", "true"}:
        return True
    raise ValueError(f"{name} must be 1 or 0, not {said!r}")


def number(name: str, default: int) -> int:
    """Return a whole number, or the default where none is set."""
    said = text(name).strip()
    if said and not said.isdecimal():
        raise ValueError(f"{name} must be a whole number, not {said!r}")
    return int(said) if said else default


def hour(name: str, default: int) -> int:
    """Return an hour of the day, 0 to 23, or the default where none is set."""
    said = number(name, default)
    if said > 23:
        raise ValueError(f"{name} must be an hour from 0 to 23, not {said}")
    return said


def mail_security(port: int, password: str) -> tuple[bool, bool]:
    """Return whether mail is sent over TLS from the first byte, and whether by STARTTLS.

    Port 465 is the first, 587 the second (RFC 8314, 3.3; RFC 6409, 3.1). On another port a relay
    of the farm's own may go without, but never with a password: STARTTLS is then asked for, and a
    server that has none gets neither password nor message.
    """
    implicit = port == 465
    return implicit, not implicit and (port == 587 or bool(password))


def words(name: str) -> list[str]:
    """Return a comma-separated variable as a list without blanks."""
    return [word.strip() for word in text(name).split(",") if word.strip()]


def tell_workers(name: str, value: str) -> None:
    """Set a variable for the processes this one starts."""
    os.environ[name] = value


def close_files(folder: Path) -> None:
    """Take from others what an older program left open to them in the data folder."""
    os.umask(0o077)
    for file in folder.iterdir():
        if file.is_file() and not file.is_symlink() and file.stat().st_mode & 0o077:
            with contextlib.suppress(PermissionError):
                file.chmod(0o600)


def passed_on(more: dict[str, str]) -> dict[str, str]:
    """Return the environment for another program, with more variables in it."""
    return {**os.environ, **more}
