"""The project's settings over a data folder that lasts as long as the tests."""

import os
import tempfile

# A bench that builds its farm once names the folder to keep it in.
os.environ["COLDROOM_DATA"] = os.environ.get("COLDROOM_BENCH") or tempfile.mkdtemp(
    prefix="coldroom-tests-"
)
# Playwright keeps an event loop running in the thread of the browser tests.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

from coldroom.settings import *  # noqa: F403
from coldroom.settings import DATA_DIR, DATABASES

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
(DATA_DIR / "static").mkdir(exist_ok=True)
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, not memory: threads that fight for a crate need connections of their own.
    # They wait for each other for as long as a busy machine needs.
    DATABASES["default"]["OPTIONS"]["timeout"] = 600
    # No test outlives a power cut; servers of their own run on the farm's settings.
    DATABASES["default"]["OPTIONS"]["init_command"] = (
        "PRAGMA journal_mode=WAL;PRAGMA synchronous=OFF;"
    )
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}
