from inventory.models import Mail, Watch
from tests.builders import NOW


def make_mail(key: str) -> Mail:
    return Mail.objects.create(key=key, subject="s", body="b", written_at=NOW, next_try_at=NOW)


def test_mail_key_is_unique(db, refused):
    make_mail("alarm 1")
    make_mail("alarm 2")
    with refused():
        make_mail("alarm 1")


def test_only_one_watch(db, refused):
    Watch.objects.create(pk=1, since=NOW, last_round_at=NOW)
    with refused():
        Watch.objects.create(pk=2, since=NOW, last_round_at=NOW)
