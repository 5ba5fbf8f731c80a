"""Photos go after their time."""

from datetime import datetime, timedelta

from inventory.actions.photos import photo_file, photo_folder
from inventory.models import Credit

# A year, and the weeks in which last season's are still spoken of. Common practice, no source.
KEPT = timedelta(days=400)
# What is younger may be a photo whose row is being written.
_NOT_YET_KNOWN = timedelta(days=1)


def drop_old(at: datetime) -> int:
    """Drop the photos of more than 400 days ago, and files no row names; return how many went.

    The rows forget theirs first: should this end half way, the next time finds the files.
    """
    with_photo = Credit.objects.filter(has_photo=True)
    with_photo.filter(action__recorded_at__lt=at - KEPT).update(has_photo=False)
    known = {photo_file(key) for key in with_photo.values_list("action", flat=True)}
    settled = (at - _NOT_YET_KNOWN).timestamp()
    gone = [
        file
        for file in photo_folder().iterdir()
        if file not in known and file.stat().st_mtime < settled
    ]
    for file in gone:
        file.unlink(missing_ok=True)
    return len(gone)
