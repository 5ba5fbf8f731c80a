"""The switches a farm can set from outside, each an environment variable with a safe default."""

import os
import secrets
from pathlib import Path


def data_folder() -> Path:
    """Return the folder that holds all of the farm's data, making it if needed.

    COLDROOM_DATA names it; otherwise it is coldroom-data in the user's home, where a person
    looking for something to back up will find it.
    """
    folder = Path(os.environ.get("COLDROOM_DATA") or Path.home() / "coldroom-data")
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder.resolve()


def secret_key(folder: Path) -> str:
    """Return this installation's secret key, made on first use and kept in the data folder."""
    return kept_secret(folder / "secret-key", lambda: secrets.token_urlsafe(50))


def kept_secret(file: Path, make) -> str:
    """Return the text of a file only its owner can read, written once from make()."""
    try:
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return file.read_text(encoding="ascii").strip()
    with os.fdopen(descriptor, "w", encoding="ascii") as out:
        text = make()
        out.write(text)
    return text


def flag(name: str) -> bool:
    """Return whether an on/off variable is on; anything but a plain yes or no is an error."""
    text = os.environ.get(name, "").strip().lower()
    if text in {"", "0", "no", "off", "false"}:
        return False
    if text in {"1", "yes", "on", "true"}:
        return True
    raise ValueError(f"{name} must be 1 or 0, not {text!r}")


def number(name: str, default: int) -> int:
    """Return a whole number, or the default where none is set."""
    text = os.environ.get(name, "").strip()
    if text and not text.isdecimal():
        raise ValueError(f"{name} must be a whole number, not {text!r}")
    return int(text) if text else default


def words(name: str) -> list[str]:
    """Return a comma-separated variable as a list without blanks."""
    return [word.strip() for word in os.environ.get(name, "").split(",") if word.strip()]
