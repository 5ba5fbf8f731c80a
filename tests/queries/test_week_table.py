"""The week as a table, and the code by which a printed one is known again."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.quality import discard
from inventory.codes import ALPHABET
from inventory.models import Crop, Week, WeekLoss
from inventory.queries.ages import Ages
from inventory.queries.kept_order import read_kept_order
from inventory.queries.lost import read_lost
from inventory.queries.week import read_weeks
from inventory.queries.week_table import csv_rows, fingerprint, is_fingerprint, is_of
from tests.builders import act, make_lot

MONDAY = date(2026, 6, 8)


@pytest.fixture
def lot(farm):
    Crop.objects.filter(reference_key="kale").update(piece_weight_kg=Decimal("0.25"), name="=Kale")
    return make_lot(20)


def throw(lot, quantity):
    facts = {"reason": "wilted", "destination": "compost"}
    discard(act(), lot=lot.pk, portion=Decimal(quantity), **facts)


def printed(farm):
    return fingerprint(read_weeks(farm, MONDAY))


def test_every_figure_of_the_page_is_in_the_table(farm, lot):
    throw(lot, 8)
    text = io.StringIO()
    week = read_weeks(farm, MONDAY)
    kept = {"week_id": MONDAY, "crop": lot.crop, "step": "room"}
    WeekLoss.objects.create(crate_days=Decimal("1.25"), **kept)
    Week.objects.filter(pk=MONDAY).update(losses_kept=True)
    others = read_lost(farm, MONDAY), read_kept_order(farm, MONDAY), [(MONDAY, Decimal(75))]
    others += ([Ages(0, 1, 3, 1.0), Ages(30, None, 2, 0.7)],)
    csv.writer(text).writerows(csv_rows(week, *others))
    rows = text.getvalue().splitlines()
    assert "2026-06-08,crop,'=Kale,bunch,discarded,wilted,compost,-8,-2,,about" in rows
    assert "2026-06-08,crop,'=Kale,bunch,closing,,,12,3,,about" in rows
    assert "2026-06-08,all,,,came_in,,,,5,,about" in rows
    assert '2026-06-08,all,,,"wasted, of what came in",,,,2,40,about' in rows
    assert "2026-06-08,waste,,,thrown away,wilted,compost,,2,,about" in rows
    assert '2026-06-08,weeks,,,"wasted, of what left",,,,2,100,' in rows
    assert len([row for row in rows if ",weeks," in row]) == 8
    assert "2026-06-08,lost,'=Kale,crate-days,room,,,1.25,,,about" in rows
    assert '2026-06-08,order,,takes,"first in, first out kept",,,0,,,' in rows
    assert "2026-06-08,ages,,crates,0-1 days,,,3,,," in rows
    assert "2026-06-08,ages,,crates,30 days and more,,,2,,," in rows
    assert '2026-06-08,market,,,"sold, of what was taken",,,,,75,' in rows
    assert {len(row) for row in csv.reader(rows)} == {11}


def test_a_printed_week_is_known_by_its_figures_not_by_names(farm, lot):
    code = printed(farm)
    assert is_fingerprint(code.lower())
    Crop.objects.filter(name="=Kale").update(name="Cavolo")
    assert printed(farm) == code
    throw(lot, 1)
    changed = printed(farm)
    Crop.objects.filter(name="Cavolo").update(piece_weight_kg=Decimal("0.3"))
    assert len({code, changed, printed(farm)}) == 3


def test_a_code_typed_wrong_is_no_code(farm, lot):
    code = printed(farm)
    for place, letter in enumerate(code):
        other = ALPHABET[ALPHABET.index(letter) - 1]
        assert not is_fingerprint(code[:place] + other + code[place + 1 :])
    assert not any(map(is_fingerprint, ("", code[:-1], code + "0", "======")))


def test_a_code_tells_of_which_week_it_is(farm, lot):
    weeks = [read_weeks(farm, MONDAY - timedelta(days=7 * ago)) for ago in range(4)]
    for one in weeks:
        assert [is_of(fingerprint(one).lower(), other) for other in weeks].count(True) == 1
        assert is_of(fingerprint(one), one)
