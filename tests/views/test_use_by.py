"""What the pages offer and refuse of a case past the date on it."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.actions.quality import hold
from inventory.models import Intake, Lot, Movement
from inventory.queries.book import Wanted
from tests import builders
from tests.builders import fresh, make_cases, say_order
from tests.views.test_cautions import words_of


def dated(days: int, kind: str) -> Lot:
    """A case of today with a date on it so many days from now, on the farm's day."""
    today = builders.act(timezone.now()).today
    day = today + timedelta(days=days)
    return make_cases(18, at=timezone.now(), best_before=day, best_before_kind=kind)[0]


@pytest.fixture
def past(signed_in) -> Lot:
    return dated(-1, "use by")


def doings_on(page, lot) -> list[str]:
    start = f'href="/L/{lot.pk}/'
    return [part.partition('"')[0] for part in page.split(start)[1:]]


def sent(client, path, **data):
    return client.post(path, {"entry": uuid4(), **data})


def test_past_its_use_by_date_a_crate_offers_to_be_thrown_out_first_and_never_to_be_sold(
    signed_in, past
):
    """Regulation (EU) No 1169/2011, Article 24(1)."""
    page = words_of(signed_in.get(f"/L/{past.pk}"))
    assert doings_on(page, past) == ["discard", "move", "send-back", "count", "hold"]
    assert "Past its use-by date: do not sell, give or use." in page
    assert f'href="/intake/{past.intake_id}/correct"' in page
    hold(builders.act(timezone.now()), lot=past.pk, reason="a doubt")
    page = words_of(signed_in.get(f"/L/{past.pk}"))
    assert doings_on(page, past) == ["discard", "move", "send-back", "count"]


@pytest.mark.parametrize("kind", ["use by", "best before"])
def test_on_the_day_itself_everything_is_offered(signed_in, kind):
    lot = dated(0, kind)
    page = words_of(signed_in.get(f"/L/{lot.pk}"))
    assert doings_on(page, lot)[0] == "take-out"
    assert "Past its" not in page


def test_its_take_out_form_refuses_and_says_what_can_be_done(signed_in, past):
    path = f"/L/{past.pk}/take-out"
    assert "past its use-by date: discard it or send it back" in words_of(signed_in.get(path))
    answer = sent(signed_in, path, portion="all", purpose="own use")
    assert answer.status_code == 409
    assert "may not be sold, given or used any more" in words_of(answer)
    assert fresh(past).quantity == 18


def test_the_take_out_form_has_no_sending_back_among_its_purposes(signed_in):
    page = words_of(signed_in.get(f"/L/{dated(5, 'use by').pk}/take-out"))
    assert 'value="own use"' in page
    assert 'value="sent back"' not in page


@pytest.mark.parametrize("mode", ["market", "order"])
def test_its_scan_is_refused_whatever_a_person_says(signed_in, past, mode):
    if mode == "order":
        wanted = [Wanted(past.crop, "kg", Decimal(5))]
        pull = say_order(builders.act(timezone.now()), lines=wanted, outlet=builders.market())
        where = {"pull": pull.pk}
    else:
        where = {"market": builders.market().pk}
    for overrule in ({"text": past.pk}, {"overrule": past.pk}):
        answer = sent(signed_in, f"/scan/{mode}", **where, **overrule)
        assert answer.status_code == 409
        assert "past its use-by date" in words_of(answer)
    assert fresh(past).quantity == 18


def test_it_is_sent_back_in_two_taps_and_undone_in_one(signed_in, past):
    path = f"/L/{past.pk}/send-back"
    answer = sent(signed_in, path, portion="all", note="past its date")
    assert answer.status_code == 302
    assert fresh(past).state == "out"
    page = words_of(signed_in.get(answer["Location"]))
    assert "sent back to the supplier · Orchard" in page
    entry = Movement.objects.get(purpose="sent back")
    week = words_of(signed_in.get("/week"))
    assert "Sent back to the supplier" in week
    assert "Sold" not in week
    csv = b"".join(signed_in.get("/ledger.csv").streaming_content).decode()
    assert ",sent back,Orchard," in csv
    assert sent(signed_in, f"/undo/{entry.action_id}").status_code == 302
    assert fresh(past).quantity == 18


def test_our_own_harvest_is_not_offered_to_a_supplier(signed_in):
    lot = builders.make_lot(at=timezone.now())
    assert "send-back" not in doings_on(words_of(signed_in.get(f"/L/{lot.pk}")), lot)
    assert sent(signed_in, f"/L/{lot.pk}/send-back", portion="all").status_code == 409


def test_home_has_a_use_by_case_under_discard_and_a_best_before_case_under_look(signed_in, past):
    look = dated(-1, "best before")
    page = signed_in.get("/")
    rotation = page.context["rotation"]
    assert [crate.code for crate in rotation.discard] == [past.pk]
    assert [crate.code for crate in rotation.look] == [look.pk]
    words = words_of(page)
    assert "Past its use-by date: discard it or send it back;" in words
    assert "Past the date on its case: look before you sell;" in words


@pytest.mark.parametrize(
    ("kind", "told"),
    [("use by", "Use by, on the case"), ("best before", "Best before, on the case")],
)
def test_lists_crate_and_delivery_say_the_date_on_the_case(signed_in, kind, told):
    lot = dated(1, kind)
    line = f"{told}: {lot.intake.best_before:%a %-d %b}"
    for path in (f"/P/{lot.position_id}", f"/L/{lot.pk}"):
        assert line in words_of(signed_in.get(path)), path
    assert f"<dt>{told}</dt>" in words_of(signed_in.get(f"/intake/{lot.intake_id}"))


def test_a_crate_past_its_use_by_date_is_not_offered_to_be_combined(signed_in, past):
    other = make_cases(18, at=timezone.now())[0]
    another = make_cases(18, at=timezone.now())[0]
    page = words_of(signed_in.get(f"/L/{other.pk}/combine"))
    assert f'value="{another.pk}"' in page
    assert past.pk not in page


def test_its_date_is_corrected_only_with_a_reason(signed_in, past):
    path = f"/intake/{past.intake_id}/correct"
    form = signed_in.get(path).context["form"]
    data = {field.html_name: field.value() for field in form if field.value() is not None}
    later = (past.intake.best_before + timedelta(days=30)).isoformat()
    answer = sent(signed_in, path, **data | {"best_before": later, "reason": ""})
    assert answer.status_code == 422
    assert Intake.objects.get(pk=past.intake_id).best_before == past.intake.best_before
    answer = sent(signed_in, path, **data | {"best_before": later, "reason": "misread"})
    assert answer.status_code == 302
    assert "take-out" in doings_on(words_of(signed_in.get(f"/L/{past.pk}")), past)
    assert Movement.objects.get(kind="corrected").note == "misread"


@pytest.mark.parametrize("kind", ["use by", "best before", "sell by"])
def test_past_a_date_it_is_one_of_the_reasons_to_discard(signed_in, kind):
    lot = dated(-1, kind)
    path = f"/L/{lot.pk}/discard"
    assert "past its date" in words_of(signed_in.get(path))
    why = {"reason": "past date", "destination": "compost", "amount": "all"}
    assert sent(signed_in, path, **why).status_code == 302
    entry = Movement.objects.get(kind="discarded")
    assert (entry.reason, entry.get_reason_display()) == ("past date", "past its date")


def test_before_its_date_and_without_one_that_is_no_reason(signed_in):
    for lot in (dated(0, "use by"), dated(0, "best before"), builders.make_lot(at=timezone.now())):
        path = f"/L/{lot.pk}/discard"
        assert "past its date" not in words_of(signed_in.get(path))
        why = {"reason": "past date", "destination": "compost", "amount": "all"}
        assert sent(signed_in, path, **why).status_code == 422
