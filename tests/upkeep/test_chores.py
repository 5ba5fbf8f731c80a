"""Each night's work is done once, and what went wrong is kept."""

from datetime import timedelta

from inventory.models import Chore, Lot, Mail
from inventory.upkeep import chores
from inventory.upkeep.watch import go_round
from tests.builders import NOW, make_lot

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)


def test_every_chore_is_done_each_night_and_what_fails_comes_again(farm, monkeypatch, caplog):
    did = []
    for name in chores.CHORES:
        monkeypatch.setitem(chores.CHORES, name, lambda at, name=name: did.append((name, at)))

    def fails(at):
        did.append(("copy", at))
        raise OSError("No space left on device")

    monkeypatch.setitem(chores.CHORES, "copy", fails)
    for minute in range(0, 101, 10):
        go_round(NOW + minute * MINUTE)
    tries = [(at - NOW) / MINUTE for name, at in did if name == "copy"]
    assert tries == [0, 60]
    assert {name for name, _at in did} == set(chores.CHORES)
    assert len(did) == len(chores.CHORES) + 1
    row = Chore.objects.get(pk="copy")
    assert (row.done_at, row.trouble) == (None, "No space left on device")
    monkeypatch.setitem(chores.CHORES, "copy", lambda _at: None)
    go_round(NOW + 2 * HOUR)
    assert Chore.objects.get(pk="copy").done_at == NOW + 2 * HOUR
    assert Chore.objects.get(pk="copy").trouble == ""
    did.clear()
    go_round(NOW + 16 * HOUR - MINUTE)
    assert did == []
    go_round(NOW + 16 * HOUR)  # two o'clock at night on the farm's clock
    assert sorted(name for name, _at in did) == sorted(set(chores.CHORES) - {"copy"})


def test_a_chore_another_watch_has_claimed_or_done_is_left_to_it(farm):
    assert chores._claimed("copy", NOW)
    assert not chores._claimed("copy", NOW + MINUTE)
    Chore.objects.update(done_at=NOW)
    assert not chores._claimed("copy", NOW + 2 * HOUR)
    assert chores._claimed("copy", NOW + DAY)


def test_the_nightly_check_keeps_what_it_found_and_mails_it_once(farm, settings, monkeypatch):
    settings.ALARM_MAIL_TO = ["owner@farm.example"]
    lot = make_lot(12)
    monkeypatch.setitem(chores.CHORES, "copy", lambda _at: None)
    go_round(NOW)
    assert (Chore.objects.get(pk="ledger").found, Mail.objects.count()) == ("", 0)
    Lot.objects.update(quantity=11)
    for day in (1, 2):
        go_round(NOW + day * DAY)
    line = f"{lot.pk}: quantity is 11.000, the ledger says 12.000"
    assert Chore.objects.get(pk="ledger").found == line
    assert [row.subject for row in Mail.objects.all()] == [
        "The nightly check found something in the log"
    ]
    assert line in Mail.objects.get().body
