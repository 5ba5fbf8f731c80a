from coldroom import env


def test_a_text_stands_as_it_is_and_an_empty_one_is_the_default(monkeypatch):
    monkeypatch.setenv("COLDROOM_MAIL_PASSWORD", " two words ")
    monkeypatch.setenv("COLDROOM_MAIL_HOST", "")
    monkeypatch.delenv("COLDROOM_MAIL_USER", raising=False)
    assert env.text("COLDROOM_MAIL_PASSWORD") == " two words "
    assert env.text("COLDROOM_MAIL_HOST", "mail.farm.example") == "mail.farm.example"
    assert env.text("COLDROOM_MAIL_USER") == ""
