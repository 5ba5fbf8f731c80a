"""Which program this is: its version, and the commit it was fetched at."""

from importlib.metadata import PackageNotFoundError, version
from pathlib import Path


def running_version(folder: Path) -> str:
    """Return the version of the program in a folder, with its commit if it was fetched by git.

    Read when a process begins: a file that is newer is not what is running.
    Example: 0.1.0 (9ef6a28)
    """
    try:
        number = version("coldroom")
    except PackageNotFoundError:
        number = ""
    commit = _commit(folder / ".git")[:7]
    return f"{number} ({commit})" if commit else number


def _commit(git: Path) -> str:
    """Return the commit a working tree stands at; nothing where that can't be read."""
    try:
        head = (git / "HEAD").read_text(encoding="ascii").strip()
        if not head.startswith("ref: "):
            return head
        name = head.removeprefix("ref: ")
        loose = git / name
        if loose.exists():
            return loose.read_text(encoding="ascii").strip()
        packed = (git / "packed-refs").read_text(encoding="ascii").splitlines()
        return next((line.split()[0] for line in packed if line.endswith(f" {name}")), "")
    except OSError:
        return ""
