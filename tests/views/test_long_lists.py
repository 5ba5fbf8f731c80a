"""Lists that could go on for ever show some rows, and the rest on taps without a script."""

import re
from datetime import timedelta

import pytest

from inventory.actions.movements import move_lots
from inventory.actions.quality import hold
from inventory.models import Movement
from inventory.queries import ledger
from inventory.queries.ledger import LedgerSearch, find_movements, page_of
from inventory.views import entry, home, rooms
from inventory.views import ledger as ledger_view
from tests import builders
from tests.builders import NOW, act, make_lot, make_lots, place

DAY = timedelta(days=1)


@pytest.fixture
def few_rows(monkeypatch):
    for module in (entry, home, rooms):
        monkeypatch.setattr(module, "ROWS_SHOWN", 5)
    monkeypatch.setattr(home, "FOLDED", 2)


def codes_in(page: str) -> list[str]:
    return re.findall(r'href="/L/([0-9A-Z]{7})"', page)


def test_home_shows_few_rows_and_more_of_a_list_on_a_tap(signed_in, few_rows):
    now = builders.timezone_now()
    held = [make_lot(at=now - n * DAY) for n in range(6)]
    hold(act(now), lots=[lot.pk for lot in held], reason="a doubt")
    page = signed_in.get("/").content.decode()
    shown = codes_in(page)
    assert len(shown) == 2
    link = re.search(r'href="(\?open=held&amp;rows=\d+)#held"', page)[1].replace("&amp;", "&")
    assert "4 more" in page
    more = signed_in.get(f"/{link}").content.decode()
    assert set(codes_in(more)) == {lot.pk for lot in held}
    assert re.search(r'<details class="fold" id="held" open>', more)


def test_not_seen_shows_the_longest_unseen_first_and_more_on_a_tap(signed_in, few_rows):
    now = builders.timezone_now()
    unseen = [make_lot(at=now - (30 - n) * DAY).pk for n in range(7)]
    page = signed_in.get("/rooms/unseen").content.decode()
    assert codes_in(page) == unseen[:5]
    assert "2 more" in page
    assert 'href="?rows=10"' in page
    assert codes_in(signed_in.get("/rooms/unseen?rows=10").content.decode()) == unseen


def test_the_ledger_is_walked_page_by_page_either_way_and_by_number(farm):
    lots = make_lots(12, 12)
    for n in range(11):  # several at one moment, so that the key decides
        move_lots(act(NOW + n // 3 * DAY), lots=[lots[n % 2].pk], position=place(f"B{n % 3 + 1}"))
    found = find_movements(LedgerSearch(), farm)
    everything = list(found)
    first = page_of(found, "occurred_at", 4)
    assert (first.rows, first.later) == (everything[:4], None)
    second = page_of(found, "occurred_at", 4, before=str(first.earlier))
    assert second.rows == everything[4:8]
    assert page_of(found, "occurred_at", 4, after=str(second.later)).rows == everything[:4]
    last = page_of(found, "occurred_at", 4, before=str(everything[9].pk))
    assert (last.rows, last.earlier) == (everything[10:], None)
    assert page_of(found, "occurred_at", 4, number=2).rows == everything[4:8]
    assert page_of(found, "occurred_at", 4, number=99).rows == everything[-4:]
    assert page_of(found, "occurred_at", 4, before="none").rows == everything[:4]


def test_an_export_is_whole_though_it_comes_in_pieces(signed_in, monkeypatch):
    monkeypatch.setattr(ledger_view, "PIECE_ROWS", 2)
    monkeypatch.setattr(ledger_view, "PAUSE_S", 0)
    make_lots(12, 12, 12, 12)
    answer = signed_in.get("/ledger.csv")
    pieces = [piece for piece in answer.streaming_content if piece]
    assert len(pieces) == 3
    assert b"".join(pieces).count(b"brought in") == Movement.objects.count()
    assert ledger.CSV_COLUMNS[0].encode() == pieces[0][:4]
