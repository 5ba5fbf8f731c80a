"""Photos that came with what was said: small files in a folder of their own, never in a table."""

import os
import tempfile
from pathlib import Path
from uuid import UUID

from django.conf import settings

from inventory.actions.imports import settle_on_disk

# In the data folder. A copy of the farm's data takes it along.
PHOTO_FOLDER = "photos"


def photo_folder() -> Path:
    """Return the folder of the photos, which only its owner can read, made if needed."""
    folder = settings.DATA_DIR / PHOTO_FOLDER
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def photo_file(key: UUID) -> Path:
    """Return where the photo of an action stands, whether there is one or not."""
    return photo_folder() / f"{key}.jpg"


def keep_photo(key: UUID, data: bytes) -> None:
    """Write the photo of an action: all of it, safely on the disk, or nothing."""
    folder = photo_folder()
    with tempfile.NamedTemporaryFile(dir=folder, suffix=".part", delete=False) as part:
        try:
            part.write(data)
            part.flush()
            os.fsync(part.fileno())
            Path(part.name).replace(photo_file(key))
        finally:
            Path(part.name).unlink(missing_ok=True)
    settle_on_disk(folder)
