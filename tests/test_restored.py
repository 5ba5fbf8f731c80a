"""What a restore had decided is done before anything of the folder is read."""

import json

from coldroom.restored import finish_restore


def test_nothing_was_decided(tmp_path):
    (tmp_path / "restoring").mkdir()
    (tmp_path / "secret-key").touch()
    finish_restore(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"restoring", "secret-key"}


def test_what_was_half_done_is_ended(tmp_path):
    """One file is in its place already, one waits, one is to go; what was there is kept."""
    work = tmp_path / "restoring"
    (work / "replaced").mkdir(parents=True)
    (work / "replaced" / "secret-key").write_text("old")
    (work / "made").write_text("new")
    for name in ("secret-key", "done", "other"):
        (tmp_path / name).write_text("there")
    plan = {
        "gone": [str(tmp_path / "other")],
        "moves": [
            [str(work / "gone already"), str(tmp_path / "done")],
            [str(work / "made"), str(tmp_path / "imports" / "1.csv")],
        ],
        "kept": str(tmp_path / "copies" / "replaced-1"),
    }
    (work / "PLAN.json").write_text(json.dumps(plan))
    finish_restore(tmp_path)
    files = {
        str(path.relative_to(tmp_path)): path.read_text()
        for path in tmp_path.rglob("*")
        if path.is_file()
    }
    assert files == {
        "secret-key": "there", "done": "there", "imports/1.csv": "new",
        "copies/replaced-1/secret-key": "old",
    }  # fmt: skip
    finish_restore(tmp_path)
    assert not work.exists()
