import pytest

from coldroom import env


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
