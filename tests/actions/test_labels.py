"""Tags that can't be made or put on."""

import pytest

from inventory.actions.movements import take_out
from inventory.actions.tags import MOST_TAGS, bind_tag, make_tags
from inventory.errors import Conflict, Refused
from tests.builders import act, make_lot, make_lots
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


def test_tags_are_made_by_the_sheet_not_by_the_thousand():
    for count in (0, MOST_TAGS + 1):
        with refused(Refused("tag-count", field="count", most=MOST_TAGS)):
            make_tags(act(), count=count)
    assert len(make_tags(act(), count=MOST_TAGS)) == MOST_TAGS


def test_a_tag_on_a_crate_that_is_here_stays_there():
    (tag,) = make_tags(act(), count=1)
    one, other = make_lots(12, 12)
    bind_tag(act(), tag=tag.pk, lot=one.pk)
    with refused(Conflict("tag-in-use", code=tag.pk, lot=one.pk)):
        bind_tag(act(), tag=tag.pk, lot=other.pk)
    take_out(act(), lot=one.pk, portion="all", purpose="own use")
    bind_tag(act(), tag=tag.pk, lot=other.pk)
    assert tag.current_lot() == other


def test_a_tag_goes_on_no_crate_that_is_gone():
    (tag,) = make_tags(act(), count=1)
    lot = make_lot(12)
    take_out(act(), lot=lot.pk, portion="all", purpose="own use")
    with refused(Conflict("not-here", code=lot.pk, state="out")):
        bind_tag(act(), tag=tag.pk, lot=lot.pk)


def test_a_tag_and_a_crate_are_told_from_one_another():
    (tag,) = make_tags(act(), count=1)
    lot = make_lot(12)
    with refused(Refused("unknown-code", code=lot.pk)):
        bind_tag(act(), tag=lot.pk, lot=lot.pk)
    with refused(Refused("unknown-code", code=tag.pk)):
        bind_tag(act(), tag=tag.pk, lot=tag.pk)
