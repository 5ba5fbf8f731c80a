"""What is said where the disk, the folder or the database gives way."""

from django.utils.translation import gettext as _


def ground_words(kind: str) -> str:
    """Return what happened and what to do. kind: see upkeep/ground.py."""
    return {
        "full": _(
            "The disk of the farm's machine is full. Nothing was written. Make room on it: delete "
            "or move what is not needed, then do it again."
        ),
        "shut": _(
            "The data folder or the database in it can't be written. Nothing was written. Give it "
            "back to the user who runs this program, and see that its disk is not read-only."
        ),
        "busy": _(
            "Another program holds the database. Nothing was written. Wait a little and do it "
            "again; if it stays so, end that program, a copy for example."
        ),
        "broken": _(
            "The database is damaged. Nothing was written. Stop the program, put the newest copy "
            "in its place and start again."
        ),
        "bare": _(
            "There are no tables here yet: run `manage.py start` first. If there was a farm, "
            "COLDROOM_DATA or DATABASE_URL may name another place."
        ),
        "silent": _(
            "The database does not answer. Nothing was written. See that it runs, then do it again."
        ),
    }[kind]
