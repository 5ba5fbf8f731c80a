"""Putting a restored copy in place: decided at once by one rename, then done until it is done.

Imports no Django: it runs before the settings are read, so that no program ever sees half of it.
"""

import json
import os
import shutil
from contextlib import suppress
from pathlib import Path

WORK = "restoring"
PLAN = "PLAN.json"
PREPARED = f"{PLAN}.part"  # the plan before it is decided
REPLACED = "replaced"


def finish_restore(folder: Path) -> None:
    """Do what a restore had decided, if there is one that was not ended. Done twice, the same.

    The plan names files from the data folder on: "gone" are deleted, "moves" put in place, and
    what stood there before is kept as "kept".
    """
    work = folder / WORK
    try:
        plan = json.loads((work / PLAN).read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError):
        return
    for name in plan["gone"]:
        (folder / name).unlink(missing_ok=True)
    for made, name in plan["moves"]:
        (folder / name).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with suppress(FileNotFoundError):  # it is in its place already
            os.replace(folder / made, folder / name)
    if (work / REPLACED).exists():
        (folder / plan["kept"]).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.replace(work / REPLACED, folder / plan["kept"])
    (work / PLAN).unlink()
    shutil.rmtree(work)
