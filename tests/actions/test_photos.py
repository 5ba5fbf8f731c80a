"""A photo is kept whole or not at all, for its owner alone."""

import os
from uuid import uuid4

import pytest

from inventory.actions.photos import keep_photo, photo_file, photo_folder


@pytest.fixture(autouse=True)
def _folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path


def test_a_photo_stands_under_the_id_of_what_was_said():
    key = uuid4()
    keep_photo(key, b"photo")
    assert photo_file(key).read_bytes() == b"photo"
    assert list(photo_folder().iterdir()) == [photo_file(key)]
    modes = (photo_folder().stat().st_mode & 0o777, photo_file(key).stat().st_mode & 0o777)
    assert modes == (0o700, 0o600)


def test_of_a_photo_that_could_not_be_written_nothing_is_left(monkeypatch):
    def full(_descriptor):
        raise OSError("no space left")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="no space left"):
        keep_photo(uuid4(), b"photo")
    assert list(photo_folder().iterdir()) == []
