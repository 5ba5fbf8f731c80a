"""The pages of the order book: writing, pasting, changing and getting an order."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.errors import Conflict, Refused
from inventory.models import (
    Crop,
    Lease,
    NotThere,
    Order,
    OrderEntry,
    Outlet,
    StandingOrder,
    Take,
)
from inventory.queries.book import Wanted, day_of
from inventory.words.days import day_words
from inventory.words.refusals import sentence
from tests import builders
from tests.builders import act, fresh, make_cases, make_lot, make_lots, say_order

DAY = timedelta(days=1)
HTMX = {"HX-Request": "true"}


def now():
    return timezone.now()


def today():
    return act(now()).today


def text(response) -> str:
    return re.sub(r"\s+", " ", response.content.decode())


def an_order(quantity=5, days=0, outlet="Inn", **changes) -> Order:
    buyer, _ = Outlet.objects.get_or_create(name=outlet)
    wanted = [Wanted(builders.crop(), "bunch", Decimal(quantity))]
    due = today() + days * DAY
    return say_order(act(now()), outlet=buyer, lines=wanted, due=due, **changes)


def write(client, quantity="3", **more):
    """Send the form of an order for the market: some of the kale that is here."""
    kale = f"want_{builders.crop().pk}_bunch"
    data = {"entry": uuid4(), "outlet": builders.market().pk, kale: quantity}
    return client.post("/pull", data | more)


def send(client, order, what, **data):
    return client.post(f"/pull/{order.pk}/{what}", {"entry": uuid4()} | data, follow=True)


def test_an_order_begun_again_by_back_is_asked_about_and_one_begun_anew_is_not(signed_in):
    make_lots(12, 12, at=now())
    assert write(signed_in).status_code == 302
    asked = write(signed_in, quantity="4", came="back")
    assert asked.status_code == 409
    assert "You began an order for Market just now" in text(asked)
    assert Order.objects.count() == 1
    assert write(signed_in, quantity="4", came="back", sure="1").status_code == 302
    assert write(signed_in).status_code == 302
    assert Order.objects.count() == 3
    Order.objects.update(closed_at=now())
    assert write(signed_in, came="back").status_code == 302


def test_a_written_order_says_so_with_an_undo(signed_in):
    make_lot(at=now())
    page = text(signed_in.get(write(signed_in)["Location"]))
    assert "Market" in page
    assert "order written" in page
    assert f'action="/undo/{Order.objects.get().pk}"' in page


def test_who_gets_it_at_once_is_on_the_way_to_its_crates(signed_in):
    lot = make_lot(at=now())
    assert write(signed_in)["Location"].startswith(f"/pull/{Order.objects.get().pk}?said=")
    assert not Lease.objects.exists()
    answer = write(signed_in, go="1")
    order = Order.objects.latest("said_at")
    assert answer["Location"] == f"/pull/{order.pk}"
    assert [lease.lot for lease in Lease.objects.filter(line__order=order)] == [lot]


@pytest.mark.parametrize(
    ("typed", "days", "due"),
    [("", "", 0), ("", "all but today", 1), ("2", "", 2)],
)
def test_a_day_left_empty_is_their_next_delivery_else_today(signed_in, typed, days, due):
    make_lot(at=now())
    weekdays = "0123456".replace(str(today().weekday()), "") if days else ""
    Outlet.objects.update(delivery_days=weekdays)
    write(signed_in, due=f"{today() + int(typed) * DAY}" if typed else "")
    assert Order.objects.get().due == today() + due * DAY


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"quantity": "0"}, "Type how much of at least one crop."),
        ({"quantity": "1000000000"}, "This can&#x27;t be more than 1000000."),
        ({"quantity": "many"}, "is not a number"),
        ({"due": "2020-01-01"}, "That day is over."),
        ({"due": "2099-01-01"}, "That is more than a year off."),
        ({"outlet": ""}, "Choose a buyer, or type a new one&#x27;s name."),
        ({"outlet": "999999"}, "Choose one of these."),
    ],
)
def test_an_order_that_can_not_be_says_why_and_writes_nothing(signed_in, changes, said):
    make_lot(at=now())
    answer = write(signed_in, **changes)
    assert answer.status_code == 422
    assert said in text(answer)
    assert not Order.objects.exists()


def test_a_switched_off_buyer_can_not_be_chosen(signed_in):
    make_lot(at=now())
    Outlet.objects.update(in_use=False)
    assert write(signed_in).status_code == 422
    assert not Order.objects.exists()


def test_the_next_order_of_a_buyer_is_as_their_last(signed_in):
    make_lot(at=now())
    order = an_order(7)
    page = text(signed_in.get(f"/pull?outlet={order.outlet_id}"))
    assert "As they ordered for" in page
    assert f'name="want_{builders.crop().pk}_bunch" value="7"' in page
    assert text(signed_in.get("/pull?outlet=x")).count("As they ordered for") == 0


def test_an_order_that_repeats_says_so_and_can_be_skipped_for_a_week(signed_in):
    make_lot(at=now())
    write(signed_in, repeats="on")
    order = Order.objects.get()
    page = text(signed_in.get(f"/pull/{order.pk}"))
    assert "every week" in page
    next_week = day_of(StandingOrder.objects.get(), order.due + 7 * DAY)
    assert signed_in.get(f"/pull/{next_week}").status_code == 200
    assert Order.objects.count() == 1  # looking writes nothing
    answer = signed_in.post(f"/pull/{next_week}/cancel", {"entry": uuid4()}, follow=True)
    assert "This order is cancelled." in text(answer)
    listed = text(signed_in.get("/orders"))
    assert f"/pull/{next_week}" not in listed
    assert f"/pull/{order.pk}" in listed


def paste(client, message: str, **more):
    return client.post("/pull", {"entry": uuid4(), "new_outlet": "Inn", "text": message} | more)


def filled(answer) -> dict[str, str]:
    found = re.findall(r'name="(want_\d+_\w+)" value="([^"]+)"', text(answer))
    names = {str(crop.pk): crop.reference_key for crop in Crop.objects.all()}
    return {names[name.split("_")[1]]: value for name, value in found}


def test_a_pasted_message_is_shown_as_understood_before_it_is_written(signed_in):
    make_cases(18, at=now())
    Crop.objects.filter(reference_key="kale").update(piece_weight_kg=Decimal("0.25"), unit="bunch")
    read = paste(signed_in, "6 kg kale, 2 cs apples\nThank you!")
    assert read.status_code == 200
    assert filled(read) == {"kale": "24", "apple": "36"}
    assert "24 bunches (6 kg)" in text(read)
    assert "36 kg (2 cases)" in text(read)
    assert not Order.objects.exists()
    kale, apple = builders.crop().pk, builders.crop("apple").pk
    signed_in.post(
        "/pull",
        {
            "entry": uuid4(), "new_outlet": "Inn", f"want_{kale}_bunch": "24",
            f"asked_{kale}_bunch": "6 kg=24", f"want_{apple}_kg": "30",
            f"asked_{apple}_kg": "2 case=36",
        },
    )  # fmt: skip
    lines = Order.objects.get().lines.values_list("quantity", "asked")
    assert set(lines) == {(24, "6 kg"), (30, "")}


def test_what_is_doubtful_in_a_message_is_marked_and_kept_for_the_person(signed_in):
    Crop.objects.filter(reference_key="kale").update(unit="bunch", piece_weight_kg=None)
    read = paste(signed_in, "6 kg kale\n5 bunches kale\n3 wurzels\n4 cs apples")
    assert read.status_code == 422
    page = text(read)
    assert "What one weighs is not known" in page
    assert "No crop of yours is found here." in page
    assert "What a case holds is not known" in page
    assert filled(read) == {"kale": "5"}
    left = re.search(r"<textarea[^>]*>(.*?)</textarea>", read.content.decode(), re.DOTALL)
    assert left[1].split("\n") == ["", "6 kg kale", "3 wurzels", "4 cs apples"]
    assert not Order.objects.exists()


def test_where_no_message_is_pasted_reading_it_writes_nothing(signed_in):
    make_lot(at=now())
    answer = write(signed_in, read="1")
    assert answer.status_code == 422
    assert "Paste their message first." in text(answer)
    assert filled(answer) == {"kale": "3"}
    assert not Order.objects.exists()


def test_an_order_is_changed_and_the_change_can_be_undone(signed_in):
    make_lot(at=now())
    order = an_order(5)
    page = signed_in.get(f"/pull/{order.pk}/change")
    assert filled(page) == {"kale": "5"}
    kale = f"want_{builders.crop().pk}_bunch"
    answer = send(signed_in, order, "change", **{kale: "8", "due": str(order.due + DAY)})
    assert "order changed" in text(answer)
    order.refresh_from_db()
    assert (order.lines.get().quantity, order.due) == (8, today() + DAY)
    entry = OrderEntry.objects.latest("pk")
    undone = signed_in.post(f"/undo/{entry.action_id}", {"entry": uuid4()}, follow=True)
    assert undone.redirect_chain[-1][0].startswith(f"/pull/{order.pk}?said=")
    assert order.lines.get().quantity == 5


def test_a_message_pasted_into_a_change_is_read_too(signed_in):
    make_lot(at=now())
    order = an_order(5)
    read = send(signed_in, order, "change", text="9 bunches kale")
    assert read.status_code == 200
    assert filled(read) == {"kale": "9"}
    assert order.lines.get().quantity == 5
    assert send(signed_in, order, "change").status_code == 422


def test_done_cancelled_opened_again_and_repeated(signed_in):
    order = an_order()
    for what, said in (
        ("close", "This order is done."), ("reopen", "order opened again"),
        ("cancel", "This order is cancelled."), ("reopen", "order opened again"),
        ("repeat", "order repeats every week"), ("end", "order repeats no more"),
    ):  # fmt: skip
        assert said in text(send(signed_in, order, what)), what
    kinds = list(OrderEntry.objects.order_by("pk").values_list("kind", flat=True))
    assert kinds == [
        "said", "closed", "reopened", "cancelled", "reopened", "repeats", "ends",
    ]  # fmt: skip


def test_what_was_taken_for_a_cancelled_order_is_asked_about(signed_in):
    lot = make_lot(at=now())
    order = an_order()
    send(signed_in, order, "take", lot=lot.pk, quantity="5")
    page = text(send(signed_in, order, "cancel"))
    assert "These were taken for it already. Bring them back?" in page
    assert f"/L/{lot.pk}/bring-back" in page


def test_a_short_is_told_in_two_taps_and_known_after(signed_in):
    make_lot(3, at=now())
    order = an_order(5)
    page = text(signed_in.get(f"/pull/{order.pk}"))
    assert "2 bunches missing" in page
    assert "Tell them before you walk" in page
    told = text(send(signed_in, order, "told"))
    assert "They know." in told
    assert "Tell them before you walk" not in told
    assert order.lines.get().told == 2


def test_part_of_a_crate_says_how_much_to_leave_and_another_amount_can_be_said(signed_in):
    lot = make_lot(at=now())
    order = an_order(5)
    assert "<b>5 bunches</b>, leave 7" in text(signed_in.get(f"/pull/{order.pk}"))
    send(signed_in, order, "take", lot=lot.pk, quantity="5", other="6")
    assert (Take.objects.get().quantity, fresh(lot).quantity) == (6, 6)


@pytest.mark.parametrize(
    ("typed", "refusal"),
    [
        ("much", Conflict("no-number")),
        ("0", Refused("not-positive")),
        ("1.5", Refused("not-whole", unit="bunch")),
    ],
)
def test_another_amount_that_can_not_be_takes_nothing(signed_in, typed, refusal):
    lot = make_lot(at=now())
    answer = send(signed_in, an_order(5), "take", lot=lot.pk, quantity="5", other=typed)
    assert answer.status_code == refusal.status
    assert sentence(refusal) in text(answer)
    assert not Take.objects.exists()


def test_a_crate_not_there_is_said_and_taken_back(signed_in):
    lot, other = make_lot(at=now() - DAY), make_lot(at=now())
    order = an_order(12)
    page = text(send(signed_in, order, "missing", lot=lot.pk, quantity="12"))
    assert "✗ Not there" in page
    assert other.pk[-4:] in page
    send(signed_in, order, "there", lot=lot.pk)
    assert not NotThere.objects.exists()


@pytest.mark.parametrize("what", ["take", "missing"])
def test_a_code_that_is_no_crates_is_refused(signed_in, what):
    answer = send(signed_in, an_order(), what, lot="nowhere")
    assert answer.status_code == 422


def test_a_tap_on_a_page_from_before_the_order_book_says_to_open_it_again(signed_in):
    for what in ("take", "missing", "there"):
        answer = signed_in.post(f"/pull/{what}/7", {"entry": uuid4()})
        assert answer.status_code == 409
        assert "Open it again" in text(answer)


def test_an_order_nobody_said_is_not_found(signed_in):
    assert signed_in.get(f"/pull/{uuid4()}").status_code == 404
    assert signed_in.get(f"/pull/{uuid4()}/change").status_code == 404
    assert signed_in.post(f"/pull/{uuid4()}/close", {"entry": uuid4()}).status_code == 409


def test_the_orders_of_the_days_ahead_say_what_is_due_and_what_lacks(signed_in):
    make_lot(3, at=now())
    Outlet.objects.create(name="Inn", by_time="09:30")
    order, later = an_order(5), an_order(5, days=1)
    page = text(signed_in.get("/orders"))
    assert "by 09:30" in page
    assert "Kale: 2 bunches missing" in page
    assert page.index(f'href="/pull/{order.pk}"') < page.index(f'href="/pull/{later.pk}"')
    assert f'action="/pull/{order.pk}/go"' in page
    signed_in.post(f"/pull/{order.pk}/go", {"entry": uuid4()})
    assert Lease.objects.get().quantity == 3


def repeated(*outlets: str) -> list:
    """The ids of yesterday's days of orders that repeat, which nobody touched."""
    for outlet in outlets:
        an_order(outlet=outlet, repeats=True)
    Order.objects.update(closed_at=now())
    StandingOrder.objects.update(starts=today() - DAY)
    return [day_of(standing, today() - DAY) for standing in StandingOrder.objects.all()]


def test_a_day_that_passed_untouched_is_late_until_somebody_says_what_became_of_it(signed_in):
    inn, heron = repeated("Inn", "Heron")
    assert "orders have not gone out" in text(signed_in.get("/"))
    page = text(signed_in.get("/orders"))
    assert ": not gone out" in page
    for key in (inn, heron):
        for doing in ("close", "cancel"):
            assert f'action="/pull/{key}/{doing}"' in page
    signed_in.post(f"/pull/{inn}/close", {"entry": uuid4()})
    home = text(signed_in.get("/"))
    assert f"Heron, {day_words(today() - DAY)}: not gone out" in home
    assert f'class="wait look" href="/pull/{heron}"' in home
    signed_in.post(f"/pull/{heron}/cancel", {"entry": uuid4()})
    for address in ("/", "/orders"):
        assert "not gone out" not in text(signed_in.get(address))


def test_an_order_of_a_day_ahead_is_not_asked_what_became_of_it(signed_in):
    order = an_order()
    page = text(signed_in.get("/orders"))
    assert f'action="/pull/{order.pk}/close"' not in page
    assert "not gone out" not in text(signed_in.get("/"))


def test_an_empty_book_says_so(signed_in):
    assert "No orders are written." in text(signed_in.get("/orders"))
