"""Tags from the pages: free in every mode, put on with what is asked first, listed, reprinted."""

import re
from html import unescape
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.actions.tags import bind_tag
from inventory.models import Action, Lot, Movement, Tag, TagBinding
from inventory.queries.tags import MOST_OFFERED
from inventory.rotation.scans import Mode
from tests import builders
from tests.builders import act, make_lot, make_lots, place, take

HTMX = {"HX-Request": "true"}


def make_tag(lot: Lot | None = None) -> Tag:
    tag = builders.make_tag(timezone.now())
    if lot:
        bind_tag(act(timezone.now()), tag=tag.pk, lot=lot.pk)
    return tag


def harvest(*quantities, **changes) -> list[Lot]:
    return make_lots(*quantities, at=timezone.now(), **changes)


def main_of(response) -> str:
    """The words of a page's main part, without its markup."""
    page = response.content.decode().partition("<main")[2] or response.content.decode()
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", "", page)))


def post(client, path: str, **data):
    return client.post(path, {"entry": uuid4()} | data)


def bind(client, tag: Tag, lot: Lot, **data):
    return post(client, f"/tag/{tag.pk}/bind", lot=lot.pk, **data)


def scan(client, mode: str, text: str, **data):
    return client.post(f"/scan/{mode}", {"entry": uuid4(), "text": text} | data, headers=HTMX)


SOUND = {"reason": "wilted", "destination": "compost"}


@pytest.mark.parametrize("mode", sorted(set(Mode) - {Mode.LOOK, Mode.TAG}))
def test_a_free_tag_says_so_in_every_mode_and_leads_to_its_page(signed_in, mode):
    (lot,) = harvest(12)
    tag = make_tag()
    before = Movement.objects.count()
    for text in (tag.pk, f"HTTP://TESTSERVER/L/{tag.pk}"):
        said = scan(signed_in, mode, text, here=place("B2").pk, **SOUND)
        assert said.status_code == 409
        assert "✗ This tag is free: it hangs on no crate." in main_of(said)
        assert f'href="/L/{tag.pk}"' in said.content.decode()
    assert Movement.objects.count() == before
    assert lot.pk in signed_in.get(f"/L/{tag.pk}").content.decode()


def test_a_free_tag_looked_up_leads_to_its_page_at_once(signed_in):
    tag = make_tag()
    for text in (tag.pk, tag.pk[-4:]):
        assert scan(signed_in, "look", text)["HX-Redirect"] == f"/L/{tag.pk}"
    assert "This tag is free." in main_of(signed_in.get(f"/L/{tag.pk}"))


def test_the_last_four_of_a_tag_look_its_crate_up(signed_in):
    (lot,) = harvest(12)
    tag = make_tag(lot)
    assert scan(signed_in, "look", tag.pk[-4:])["HX-Redirect"] == f"/L/{lot.pk}"


def test_a_tag_of_a_crate_that_is_empty_is_free_too(signed_in):
    (lot,) = harvest(12)
    tag = make_tag(lot)
    post(signed_in, f"/L/{lot.pk}/discard", share="all", **SOUND)
    assert "This tag is free" in main_of(scan(signed_in, "count", tag.pk, here=place().pk))


def test_a_free_tag_goes_on_when_tags_are_put_on_and_is_led_on_when_all_have_theirs(signed_in):
    (lot,) = harvest(12)
    tag, more = make_tag(), make_tag()
    assert "✓" in main_of(scan(signed_in, "tag", tag.pk))
    assert tag.current_lot() == lot
    said = scan(signed_in, "tag", more.pk)
    assert "has its tag" in main_of(said)
    assert f'href="/L/{more.pk}"' in said.content.decode()


def test_a_tag_of_a_crate_at_the_market_is_asked_about_before_it_goes_on(signed_in):
    gone = harvest(12)[0]
    tag = make_tag(gone)
    take(gone, "all", at=timezone.now())
    (filled,) = harvest(10)
    asked = scan(signed_in, "tag", tag.pk)
    assert f"? {gone.pk} is still out (Market) and would have no label" in main_of(asked)
    assert "Put the tag on all the same" in main_of(asked)
    assert f'name="overrule" value="{tag.pk}"' in asked.content.decode()
    assert tag.current_lot() == gone
    said = scan(signed_in, "tag", tag.pk, overrule=tag.pk)
    assert tag.current_lot() == filled
    post(signed_in, re.search(r'hx-post="(/undo/[^"]+)"', said.content.decode())[1])
    assert tag.current_lot() == gone


def test_what_was_said_of_one_tag_answers_for_no_other(signed_in):
    gone = harvest(12, 12)
    tag, other = (make_tag(lot) for lot in gone)
    for lot in gone:
        take(lot, "all", at=timezone.now())
    harvest(10)
    assert "still out" in main_of(scan(signed_in, "tag", tag.pk, overrule=other.pk))
    assert tag.current_lot() == gone[0]


def test_by_its_page_a_tag_of_a_crate_at_the_market_asks_the_same(signed_in):
    gone = harvest(12)[0]
    tag = make_tag(gone)
    take(gone, "all", at=timezone.now())
    (filled,) = harvest(10)
    asked = bind(signed_in, tag, filled)
    assert asked.status_code == 409
    assert f"{gone.pk} is still out (Market) and would have no label" in main_of(asked)
    assert f'name="lot" value="{filled.pk}"' in asked.content.decode()
    assert tag.current_lot() == gone
    bound = bind(signed_in, tag, filled, sure="1")
    assert bound["Location"].startswith(f"/L/{filled.pk}?said=act.")
    assert tag.current_lot() == filled


def test_a_crate_with_a_tag_says_so_and_the_tags_are_swapped_by_a_tap(signed_in):
    (lot,) = harvest(12)
    old, new = make_tag(lot), make_tag()
    asked = bind(signed_in, new, lot)
    assert asked.status_code == 409
    assert f"{lot.pk} carries tag {old.pk} already." in main_of(asked)
    assert "Swap the tags" in main_of(asked)
    assert (old.current_lot(), new.current_lot()) == (lot, None)
    bind(signed_in, new, lot, sure="1")
    assert (old.current_lot(), new.current_lot()) == (None, lot)
    post(signed_in, f"/undo/{Action.objects.latest('recorded_at').pk}")
    assert (old.current_lot(), new.current_lot()) == (lot, None)


def test_nothing_is_asked_of_what_is_so_already(signed_in):
    (lot,) = harvest(12)
    tag, second = make_tag(lot), make_tag(lot)
    assert bind(signed_in, tag, lot).status_code == 302
    assert (tag.current_lot(), second.current_lot()) == (lot, lot)


def test_nothing_is_asked_of_what_can_not_be_done(signed_in):
    (gone,) = harvest(12)
    make_tag(gone)
    take(gone, "all", at=timezone.now())
    refused = bind(signed_in, make_tag(), gone)
    assert refused.status_code == 409
    assert f"Crate {gone.pk} is not here: out." in main_of(refused)
    assert "already" not in main_of(refused)


def test_the_same_form_sent_twice_is_answered_once(signed_in):
    (lot,) = harvest(12)
    tag, sent = make_tag(), {"entry": str(uuid4()), "lot": lot.pk}
    first, again = (signed_in.post(f"/tag/{tag.pk}/bind", sent) for _ in range(2))
    assert first["Location"] == again["Location"]
    assert TagBinding.objects.count() == 1


def test_a_tag_in_use_says_so_on_its_page_and_stays(signed_in):
    one, two = harvest(12, 12)
    tag = make_tag(one)
    refused = bind(signed_in, tag, two)
    assert refused.status_code == 409
    assert f"Tag {tag.pk} is still on crate {one.pk}" in main_of(refused)
    assert "This tag is free" not in main_of(refused)


def test_a_free_tag_offers_the_newest_crates_with_place_and_weight(signed_in):
    make_lot(at=timezone.now() - builders.timedelta(days=3), position=place("A2"))
    harvest(*[12] * (MOST_OFFERED - 1), position=place("B1"))
    make_lot(key="salad-mix", unit="kg", quantity="7.5", at=timezone.now(), position=place("B3"))
    tag = make_tag()
    page = signed_in.get(f"/L/{tag.pk}")
    offered = re.findall(r'name="lot" value="\w+">(.*?)</button>', page.content.decode(), re.S)
    words = [re.sub(r"<[^>]*>|\s+", " ", one) for one in offered]
    assert len(words) == MOST_OFFERED
    assert "7.5 kg, B3" in words[0]
    assert all("Kale, 12 bunches, B1" in one for one in words[1:])


@pytest.mark.parametrize("typed", ["{tail}", "{code}", "http://testserver/L/{code}", "{tag}"])
def test_another_crate_is_found_by_its_code_or_its_tags_and_nothing_else_is_offered(
    signed_in, typed
):
    wanted, _other = harvest(12, 12)
    on, tag = make_tag(wanted), make_tag()
    text = typed.format(tail=wanted.pk[-4:].lower(), code=wanted.pk, tag=on.pk[-4:])
    page = signed_in.get(f"/L/{tag.pk}", {"find": text}).content.decode()
    assert re.findall(r'name="lot" value="(\w+)"', page) == [wanted.pk]


@pytest.mark.parametrize("typed", ["0000", "kale", "http://elsewhere.example/L/{code}", "🥬"])
def test_a_code_of_no_crate_says_so_and_the_newest_stay_offered(signed_in, typed):
    (lot,) = harvest(12)
    tag = make_tag()
    page = signed_in.get(f"/L/{tag.pk}", {"find": typed.format(code=lot.pk)})
    assert "No crate in the house has this code." in main_of(page)
    assert f'value="{lot.pk}"' in page.content.decode()


def test_putting_on_and_taking_off_is_told_on_the_tags_page_and_undone_from_there(signed_in):
    (lot,) = harvest(12)
    tag = make_tag()
    bind(signed_in, tag, lot)
    freed = post(signed_in, f"/tag/{tag.pk}/free")
    page = signed_in.get(freed["Location"])
    assert "tag taken off" in main_of(page)
    assert "tag put on" in main_of(page)
    assert f"/L/{lot.pk}" in page.content.decode()
    undo = re.search(r'action="(/undo/[^"]+)"', page.content.decode())[1]
    post(signed_in, undo)
    assert tag.current_lot() == lot


@pytest.mark.parametrize("path", ["/ledger", "/ledger?code={tag}", "/L/{lot}", "/L/{tag}"])
def test_what_was_done_to_a_tag_leads_to_its_undo(signed_in, path):
    (lot,) = harvest(12)
    tag = make_tag()
    bind(signed_in, tag, lot)
    post(signed_in, f"/tag/{tag.pk}/free")
    page = signed_in.get(path.format(tag=tag.pk, lot=lot.pk)).content.decode()
    for kind in ("tag off", "tag on"):
        action = Movement.objects.get(kind=kind).action_id
        assert f'href="/done/{action}"' in page
        assert f'action="/undo/{action}"' in signed_in.get(f"/done/{action}").content.decode()


@pytest.mark.parametrize("path", ["/tags", "/settings/tags"])
def test_every_tag_is_listed_with_what_it_hangs_on_and_can_be_ticked(signed_in, path):
    here, out = harvest(12, 12)
    tags = [make_tag(here), make_tag(out), make_tag()]
    take(out, "all", at=timezone.now())
    page = signed_in.get(path)
    told = main_of(page)
    assert f"{tags[0].pk} Kale, {here.pk}, 12 bunches, Cold room A1" in told
    assert f"{tags[1].pk} Kale, {out.pk}, out, Market" in told
    assert told.index("On a crate 2") < told.index("Free 1") < told.index(tags[2].pk)
    ticks = re.findall(r'name="codes" value="(\w+)"', page.content.decode())
    assert sorted(ticks) == sorted(tag.pk for tag in tags)
    printed = signed_in.get("/labels", {"codes": ticks[:2]})
    assert "2 labels" in main_of(printed)


def test_crew_come_to_the_tags_from_labels_to_print_again_once_there_are_any(signed_in):
    builders.sign_in(signed_in, builders.make_crew())
    assert 'href="/tags"' not in signed_in.get("/labels/reprint").content.decode()
    assert "No tags were made yet" in main_of(signed_in.get("/tags"))
    make_tag()
    assert 'href="/tags"' in signed_in.get("/labels/reprint").content.decode()
    assert "Free 1" in main_of(signed_in.get("/tags"))


def test_a_crate_out_says_what_taking_its_tag_off_means(signed_in):
    (lot,) = harvest(12)
    make_tag(lot)
    words = "Once its tag is off, only its own label says which crate it is."
    assert words not in main_of(signed_in.get(f"/L/{lot.pk}"))
    take(lot, "all", at=timezone.now())
    assert words in main_of(signed_in.get(f"/L/{lot.pk}"))
