"""Where nobody said when it was cut, nothing says a cut day: it says when it came in."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.utils import timezone, translation

from inventory.actions.reshape import combine_lots, split_lot
from inventory.models import Code, Lot, Tag
from inventory.queries.crates import one_crate
from inventory.words.crates import dated_words
from inventory.words.labels import crate_label, tag_label
from tests.builders import NOW, act, make_cases, make_lot, place


def dated(lot: Lot, farm, at=NOW, language="en") -> str:
    """What a row, a list or a slip says; a label says the same."""
    with translation.override(language):
        crate = one_crate(lot.pk, farm, at)
        words = dated_words(crate)
        label = [text for text, _size in crate_label(crate, farm).lines]
    assert label[0].replace("\N{NO-BREAK SPACE}", " ") == words
    assert sum("cut" in text or "packed" in text for text in label) <= 1
    return words


def test_a_crate_says_the_day_it_was_cut_where_somebody_said_so(farm):
    assert dated(make_lot(cut_at=datetime(2026, 6, 9, 14, tzinfo=UTC), cut_ago=None), farm) == (
        "cut Tue 9 Jun"
    )


def test_a_crate_says_the_day_it_came_in_where_nobody_did(farm):
    assert dated(make_lot(cut_ago=None), farm) == "in Wed 10 Jun"


def test_bought_cases_say_when_they_were_packed_or_that_they_came_in(farm):
    assert dated(make_cases(18, packed_on=date(2026, 6, 1))[0], farm) == "packed Mon 1 Jun"
    assert dated(make_cases(18)[0], farm) == "in Wed 10 Jun"


@pytest.mark.parametrize(
    ("moment", "words"),
    [
        (datetime(2026, 6, 10, 3, 30, tzinfo=UTC), "in Tue 9 Jun"),
        (datetime(2026, 6, 10, 4, 0, tzinfo=UTC), "in Wed 10 Jun"),
        (datetime(2026, 6, 11, 3, 59, tzinfo=UTC), "in Wed 10 Jun"),
        (datetime(2026, 1, 10, 4, 59, tzinfo=UTC), "in Fri 9 Jan"),
        (datetime(2026, 1, 10, 5, 0, tzinfo=UTC), "in Sat 10 Jan"),
    ],
)
def test_the_day_is_the_farms(farm, moment, words):
    """New York is four hours behind Greenwich in summer and five in winter."""
    lot = make_lot(at=moment, cut_ago=None)
    with timezone.override(farm.zone):
        assert dated(lot, farm, moment) == words


def test_a_crate_that_came_in_after_midnight_by_the_assumed_cut_names_no_day_before(farm):
    """Two hours before half past midnight is the day before: assumed, and said by nobody."""
    moment = datetime(2026, 6, 10, 4, 30, tzinfo=UTC)
    lot = make_lot(at=moment, cut_ago=None)
    assert one_crate(lot.pk, farm, moment).life.harvested_at.astimezone(farm.zone).day == 9
    with timezone.override(farm.zone):
        assert dated(lot, farm, moment) == "in Wed 10 Jun"


def test_what_was_filled_from_a_crate_of_no_known_cut_says_none_either(farm):
    lot = make_lot(cut_ago=None)
    split_lot(act(NOW), lot=lot.pk, quantity=Decimal(5))
    assert dated(Lot.objects.get(parents=lot), farm) == "in Wed 10 Jun"


def test_a_mixed_crate_says_what_is_known_of_its_oldest_content(farm):
    unsaid, said = make_lot(at=NOW, cut_ago=None), make_lot(at=NOW)
    older = make_lot(at=datetime(2026, 6, 8, 14, tzinfo=UTC))
    combine_lots(act(NOW), lots=[unsaid.pk, said.pk])
    child = Lot.objects.get(parents=unsaid)
    assert dated(child, farm) == "in Wed 10 Jun"
    combine_lots(act(NOW), lots=[child.pk, older.pk])
    assert dated(Lot.objects.get(parents=older), farm) == "cut Mon 8 Jun"


def said_on(lot: Lot, farm) -> list[str]:
    label = crate_label(one_crate(lot.pk, farm, NOW), farm)
    return [text.replace("\N{NO-BREAK SPACE}", " ") for text, _size in label.lines]


def test_nobody_may_take_a_label_for_a_use_by_date(farm):
    """Kale, 14 days at 0 °C (AH-66 pages 68-69), 3^0.2 times as fast at 2: 11.2 days."""
    told = said_on(make_lot(), farm)
    assert told[-3:] == ["keeps until about Sat 20 Jun at 2 °C", "quality, not safety", "Test Farm"]


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("use by", "Use by, on the case: Sat 13 Jun"),
        ("best before", "Best before, on the case: Sat 13 Jun"),
        ("sell by", "Sell by, on the case: Sat 13 Jun"),
    ],
)
def test_a_label_says_the_date_on_the_case(farm, kind, words):
    case = make_cases(18, best_before=date(2026, 6, 13), best_before_kind=kind)[0]
    assert words in said_on(case, farm)


def test_where_a_use_by_date_ends_it_a_label_says_that_date_alone(farm):
    """The apple keeps longer; a day from here on that is its use-by date is no estimate."""
    by = {"best_before_kind": "use by"}
    told = said_on(make_cases(18, best_before=date(2026, 6, 13), **by)[0], farm)
    assert told[-2:] == ["Use by, on the case: Sat 13 Jun", "Test Farm"]
    assert not any("keeps until" in text or "safety" in text for text in told)
    told = said_on(make_cases(18, best_before=date(2027, 6, 13), **by)[0], farm)
    assert told[-4].startswith("Use by, on the case")
    assert told[-3].startswith("keeps until about")
    assert told[-2:] == ["quality, not safety", "Test Farm"]


def test_a_label_names_no_place(farm):
    """A crate moves: what its label said of the place would be untrue by noon."""
    lot = make_lot(position=place("A2"))
    assert lot.position.name == "A2"
    assert "A2" not in said_on(lot, farm)


@pytest.mark.parametrize(
    ("postal", "telephone", "last"),
    [
        ("3 Mill Lane, Tamberlow", "555 0142", "3 Mill Lane, Tamberlow, 555 0142"),
        ("3 Mill Lane, Tamberlow", "", "3 Mill Lane, Tamberlow"),
        ("", "555 0142", "555 0142"),
    ],
)
def test_a_label_says_whose_it_is(farm, postal, telephone, last):
    """Name and business address of a farm exempt from the produce rule: 21 CFR 112.6."""
    farm.postal_address, farm.telephone = postal, telephone
    assert said_on(make_lot(), farm)[-2:] == ["Test Farm", last]


def test_what_a_label_may_leave_out_never_is_crop_day_code_or_date(farm):
    farm.postal_address = "3 Mill Lane"
    case = make_cases(18, best_before=date(2027, 6, 13), best_before_kind="use by")[0]
    label = crate_label(one_crate(case.pk, farm, NOW), farm)
    assert [text for text, _share in label.if_room] == ["quality, not safety", "3 Mill Lane"]
    assert label.spare == ("Orchard", "Test Farm", "18 kg")
    kept = [
        text for text in said_on(case, farm) if text not in (*label.spare, *dict(label.if_room))
    ]
    assert [text.split(" ")[0] for text in kept] == ["in", "Use", "keeps"]


def test_a_tag_says_its_code_once_and_whose_crate_it_is(farm):
    code = Code.objects.create(text="11J6446")
    label = tag_label(Tag.objects.create(code=code, made_at=NOW), farm)
    assert (label.headline, label.code) == ("", "11J6446")
    assert [text for text, _size in label.lines] == ["crate tag", "Test Farm"]
