"""What a tag hangs on, and what is asked before it goes on another crate."""

import pytest
from django.utils import translation

from inventory.actions.labels import record_prints
from inventory.actions.tags import bind_tag
from inventory.models import Lot, Tag
from inventory.queries.tags import hanging
from inventory.words.tags import bind_doubt_words, hangs_words
from tests import builders
from tests.builders import NOW, act, make_lot, take

pytestmark = pytest.mark.usefixtures("farm")


def make_tag(lot: Lot | None = None) -> Tag:
    tag = builders.make_tag()
    if lot:
        bind_tag(act(), tag=tag.pk, lot=lot.pk)
    return tag


def hangs(tag: Tag) -> str:
    (row,) = hanging([tag])
    return hangs_words(row)


def test_a_tag_tells_crop_crate_amount_and_place():
    lot = make_lot()
    assert hangs(make_tag(lot)) == f"Kale, {lot.pk}, 12 bunches, Cold room A1"


def test_a_tag_of_a_crate_without_a_place_tells_its_state():
    lot = make_lot(position=None)
    assert hangs(make_tag(lot)) == f"Kale, {lot.pk}, 12 bunches, to put away"


def test_a_tag_of_a_crate_that_is_out_tells_where_and_no_amount():
    lot = make_lot()
    tag = make_tag(lot)
    take(lot, "all")
    assert hangs(tag) == f"Kale, {lot.pk}, out, Market"


def test_a_tag_on_no_crate_is_free():
    assert hangs(make_tag()) == "free"


def test_nothing_is_asked_of_a_free_tag_and_a_crate_without_one():
    assert bind_doubt_words(make_tag(), make_lot()) == ""


def test_a_crate_still_out_is_named_before_its_tag_goes():
    out, lot = make_lot(), make_lot()
    tag = make_tag(out)
    take(out, "all")
    assert bind_doubt_words(tag, lot) == (
        f"{out.pk} is still out (Market) and would have no label: bring it back first, or put the "
        "tag on all the same."
    )
    record_prints([(out, NOW.date())], NOW)
    assert bind_doubt_words(tag, lot) == (
        f"{out.pk} is still out (Market): bring it back first, or put the tag on all the same."
    )


def test_a_crate_that_carries_tags_says_which():
    lot = make_lot()
    one = make_tag(lot)
    assert bind_doubt_words(make_tag(), lot) == (
        f"{lot.pk} carries tag {one.pk} already. Take that off and put this one on?"
    )
    two = make_tag(lot)
    assert bind_doubt_words(make_tag(), lot) == (
        f"{lot.pk} carries the tags {one.pk}, {two.pk} already. Take those off and put this one on?"
    )


def test_both_are_asked_at_once_in_either_language():
    out, lot = make_lot(), make_lot()
    tag, other = make_tag(out), make_tag(lot)
    take(out, "all")
    for language in ("en", "es"):
        with translation.override(language):
            asked = bind_doubt_words(tag, lot)
        assert out.pk in asked
        assert other.pk in asked
