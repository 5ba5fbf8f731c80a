import os
import subprocess
import sys
from pathlib import Path

import pytest

from coldroom import env
from coldroom.faults import CannotStart
from tests.serving import OURS, ROOT


def test_a_text_stands_as_it_is_and_an_empty_one_is_the_default(monkeypatch):
    monkeypatch.setenv("COLDROOM_MAIL_PASSWORD", " two words ")
    monkeypatch.setenv("COLDROOM_MAIL_HOST", "")
    monkeypatch.delenv("COLDROOM_MAIL_USER", raising=False)
    assert env.text("COLDROOM_MAIL_PASSWORD") == " two words "
    assert env.text("COLDROOM_MAIL_HOST", "mail.farm.example") == "mail.farm.example"
    assert env.text("COLDROOM_MAIL_USER") == ""


@pytest.mark.parametrize(
    ("port", "password", "security"),
    [
        (465, "", (True, False)),
        (465, "secret", (True, False)),
        (587, "", (False, True)),
        (587, "secret", (False, True)),
        (25, "", (False, False)),
        (25, "secret", (False, True)),
        (2525, "secret", (False, True)),
    ],
)
def test_a_password_never_goes_to_a_mail_server_in_clear(port, password, security):
    """Ports of RFC 8314, 3.3 (465) and RFC 6409, 3.1 (587)."""
    assert env.mail_security(port, password) == security


@pytest.mark.parametrize(("said", "hour"), [("", 20), ("0", 0), ("23", 23), ("24", None)])
def test_an_hour_is_one_of_the_day(monkeypatch, said, hour):
    monkeypatch.setenv("COLDROOM_CHECK_HOUR", said)
    if hour is None:
        with pytest.raises(ValueError, match="an hour from 0 to 23, not 24"):
            env.hour("COLDROOM_CHECK_HOUR", 20)
    else:
        assert env.hour("COLDROOM_CHECK_HOUR", 20) == hour


def test_another_database_of_the_same_server_is_told_in_the_same_way(monkeypatch):
    monkeypatch.setenv("DATABASE_URL", "postgres://ada:p%40ss@[::1]:5433/farm?sslmode=require")
    told = env.database_url("farm copy")
    assert told == "postgres://ada:p%40ss@[::1]:5433/farm%20copy?sslmode=require"
    monkeypatch.setenv("DATABASE_URL", "postgres:///farm")
    assert env.database_url("copy") == "postgres:///copy"


def test_a_folder_made_beforehand_is_closed_to_others(tmp_path, monkeypatch):
    tmp_path.chmod(0o755)
    monkeypatch.setenv("COLDROOM_DATA", str(tmp_path))
    assert env.data_folder() == tmp_path
    assert tmp_path.stat().st_mode & 0o777 == 0o700


def test_a_folder_that_can_not_be_used_is_said_in_both_languages(tmp_path, monkeypatch):
    (tmp_path / "file").touch()
    monkeypatch.setenv("COLDROOM_DATA", str(tmp_path / "file" / "data"))
    with pytest.raises(CannotStart, match=r"can't be used: Not a directory.*\n.*no se puede usar"):
        env.data_folder()
    monkeypatch.setenv("COLDROOM_DATA", str(tmp_path))
    monkeypatch.setattr(os, "access", lambda _folder, mode: not mode & os.W_OK)
    with pytest.raises(CannotStart, match="COLDROOM_DATA"):
        env.data_folder()


def ends_with(folder: Path, *command: str) -> str:
    """Return what a command says as it ends on a data folder where something gave way."""
    environment = {name: value for name, value in os.environ.items() if name not in OURS}
    done = subprocess.run(
        [sys.executable, "manage.py", *command], cwd=ROOT, capture_output=True, text=True,
        env=environment | {"COLDROOM_DATA": str(folder)}, check=False,
    )  # fmt: skip
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    return done.stderr


def test_the_program_ends_with_that_sentence_and_no_traceback(tmp_path):
    (tmp_path / "secret-key").touch()
    assert ends_with(tmp_path, "start").startswith(f"The file {tmp_path}/secret-key is empty")


@pytest.mark.parametrize("command", ["backup", "check_ledger", "watch --once", "export_all x.zip"])
def test_no_command_makes_a_farm_of_an_empty_database_or_fails_on_a_damaged_one(tmp_path, command):
    """An update begins with `backup`: whatever opens an empty file first makes it a new farm."""
    file = tmp_path / "coldroom.sqlite3"
    for content, said in ((b"", "is empty (0 bytes)"), (b"hello" * 999, "can't be read")):
        file.write_bytes(content)
        assert said in ends_with(tmp_path, *command.split())
        assert file.read_bytes() == content


def test_a_secret_is_made_once_whole_and_an_empty_one_is_refused(tmp_path, monkeypatch):
    file = tmp_path / "secret-key"
    made = env.secret_key(tmp_path)
    assert (len(made) > 50, env.secret_key(tmp_path)) == (True, made)
    assert file.stat().st_mode & 0o777 == 0o600
    assert list(tmp_path.iterdir()) == [file]
    file.write_text("", encoding="ascii")
    with pytest.raises(CannotStart, match=r"delete it and start again.*\n.*bórralo"):
        env.secret_key(tmp_path)
    file.unlink()

    def cut_off(_descriptor):
        raise OSError("the power went")

    monkeypatch.setattr(os, "fsync", cut_off)
    with pytest.raises(CannotStart, match=r"can't be used: the power went.*\n.*se puede usar"):
        env.secret_key(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_secret_that_another_process_made_first_counts(tmp_path, monkeypatch):
    file = tmp_path / "secret-key"

    def first(_name, _file):
        file.write_text("theirs", encoding="ascii")
        raise FileExistsError

    monkeypatch.setattr(os, "link", first)
    assert env.secret_key(tmp_path) == "theirs"
