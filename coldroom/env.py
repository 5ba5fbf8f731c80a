"""The switches a farm can set from outside, each an environment variable with a safe default."""

import os
import secrets
from collections.abc import Callable
from pathlib import Path


def data_folder() -> Path:
    """Return the folder that holds all of the farm's data, making it if needed.

    COLDROOM_DATA names it; otherwise it is coldroom-data in the user's home, where a person
    looking for something to back up will find it.
    """
    folder = Path(text("COLDROOM_DATA") or Path.home() / "coldroom-data")
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder.resolve()


def secret_key(folder: Path) -> str:
    """Return this installation's secret key, made on first use and kept in the data folder."""
    return kept_secret(folder / "secret-key", lambda: secrets.token_urlsafe(50))


def kept_secret(file: Path, make: Callable[[], str]) -> str:
    """Return the text of a file only its owner can read, written once from make()."""
    try:
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return file.read_text(encoding="ascii").strip()
    with os.fdopen(descriptor, "w", encoding="ascii") as out:
        secret = make()
        out.write(secret)
    return secret


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


def words(name: str) -> list[str]:
    """Return a comma-separated variable as a list without blanks."""
    return [word.strip() for word in text(name).split(",") if word.strip()]


def passed_on(more: dict[str, str]) -> dict[str, str]:
    """Return the environment for another program, with more variables in it."""
    return {**os.environ, **more}
