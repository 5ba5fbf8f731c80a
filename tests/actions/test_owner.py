"""What the owner sets leaves rows: what of which, before and after, by whom, when."""

import hashlib
import json
import re
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.actions.labels import record_prints
from inventory.actions.owner import (
    Habit,
    add_place,
    adopt_keeping_days,
    call_dates_best_before,
    forget_address,
    open_room,
    pick_crops,
    reopen_alarm,
    save_row,
    set_habits,
    switch_crop,
)
from inventory.actions.quality import inspect
from inventory.actions.setup import Shelving
from inventory.actions.tags import make_tags
from inventory.actions.temperatures import close_alarm
from inventory.actions.undo import undo
from inventory.errors import Refused
from inventory.models import (
    Action,
    AlarmClosing,
    Change,
    Container,
    Crop,
    Farm,
    LabelAddress,
    Lot,
    Outlet,
    Position,
    Room,
    Source,
)
from inventory.queries.experience import estimate_of, read_harvests
from inventory.queries.labels import NotOurs, read_label
from inventory.views.owner import LISTS
from inventory.words.owner import change_words
from tests import builders
from tests.builders import NOW, act, make_cases, make_crew, make_lots, place, set_target
from tests.refusing import refused

HOUR = timedelta(hours=1)
# As long as a PIN may be: four digits stand in one fingerprint of a few hundred by chance.
NEW_PASSWORD, NEW_PIN = "brindle-moor-cold-stone", "471108154711"

pytestmark = pytest.mark.usefixtures("farm")


def rows(**where) -> list[tuple]:
    """What is written down: kind of row, its name, field, before, after."""
    found = Change.objects.filter(**where)
    return list(found.values_list("subject", "name", "field", "before", "after"))


def typed(client, path: str) -> dict:
    """What the form of a page says as it is opened."""
    page = client.get(path)
    assert 'name="entry"' in page.content.decode()
    form = page.context["form"]
    shown = {field.html_name: field.value() for field in form}
    data = {name: "" if value is None else value for name, value in shown.items()}
    return {name: value for name, value in data.items() if value is not False} | {"entry": uuid4()}


def send(client, path: str, **changes) -> Action:
    """Fill a page's form with changes; None unticks. Returns the action it made."""
    data = typed(client, path) | changes
    answer = client.post(path, {name: value for name, value in data.items() if value is not None})
    assert answer.status_code == 302, answer.context["form"].errors
    return Action.objects.get(pk=data["entry"])


def new_password(password: str = NEW_PASSWORD) -> dict[str, str]:
    return {"new_password": password, "your_password": builders.PASSWORD}


def rows_of(client, path: str, **changes) -> list[tuple]:
    action = send(client, path, **changes)
    assert (action.kind, action.person) == ("change", builders.owner())
    return rows(action=action)


def test_a_crop(signed_in):
    kale = builders.crop()
    Crop.objects.filter(pk=kale.pk).update(keeping_days=Decimal("11.5"), piece_weight_kg="0.25")
    path, name = f"/settings/crops/{kale.pk}", kale.shown_name
    changes = {"keeping_days": "9", "sell_first_days": "3", "unit": "kg", "grown": None}
    assert rows_of(signed_in, path, **changes) == [
        ("crop", name, "grown", "yes", "no"),
        ("crop", name, "unit", "bunch", "kg"),
        ("crop", name, "keeping_days", "11.5", "9"),
        ("crop", name, "sell_first_days", "2", "3"),
    ]
    assert rows_of(signed_in, path, keeping_days="", piece_weight_kg="0.3") == [
        ("crop", name, "keeping_days", "9", ""), ("crop", name, "piece_weight_kg", "0.25", "0.3"),
    ]  # fmt: skip
    assert rows_of(signed_in, path, name="Moor kale") == [
        ("crop", "Moor kale", "name", "", "Moor kale")
    ]


def test_a_block(signed_in):
    bed = Source.objects.get(name="Bed 3")
    path = f"/settings/sources/{bed.pk}"
    changes = {"not_before": "2026-07-01", "not_before_reason": "spray", "organic": "on"}
    assert rows_of(signed_in, path, **changes) == [
        ("source", "Bed 3", "organic", "no", "yes"),
        ("source", "Bed 3", "not_before", "", "2026-07-01"),
        ("source", "Bed 3", "not_before_reason", "", "spray"),
    ]
    assert rows_of(signed_in, path, not_before="2026-07-09", in_use=None) == [
        ("source", "Bed 3", "not_before", "2026-07-01", "2026-07-09"),
        ("source", "Bed 3", "in_use", "yes", "no"),
    ]


def test_a_kind_of_crate(signed_in):
    tote = Container.objects.get()
    path = f"/settings/containers/{tote.pk}"
    assert rows_of(signed_in, path, tare_kg="1.5", half_cooling_h="6") == [
        ("container", "Tote", "tare_kg", "0", "1.5"),
        ("container", "Tote", "half_cooling_h", "", "6"),
    ]


def test_a_buyer(signed_in):
    path = f"/settings/outlets/{builders.market().pk}"
    changes = {"own_grown_only": "on", "organic_only": "on", "minimum_days": "3", "fridge_c": "5"}
    assert rows_of(signed_in, path, **changes) == [
        ("outlet", "Market", "own_grown_only", "no", "yes"),
        ("outlet", "Market", "organic_only", "no", "yes"),
        ("outlet", "Market", "minimum_days", "", "3"),
        ("outlet", "Market", "fridge_c", "", "5"),
    ]
    assert rows_of(signed_in, path, name="Saturday market", kind="stand") == [
        ("outlet", "Saturday market", "name", "Market", "Saturday market"),
        ("outlet", "Saturday market", "kind", "market", "stand"),
    ]


def test_a_room(signed_in):
    path = f"/settings/rooms/{Room.objects.get().pk}"
    assert rows_of(signed_in, path, target_c="3.5", band_c="1", alarm_after_h="4", damp=None) == [
        ("room", "Cold room", "target_c", "2", "3.5"),
        ("room", "Cold room", "band_c", "2", "1"),
        ("room", "Cold room", "alarm_after_h", "2", "4"),
        ("room", "Cold room", "damp", "yes", "no"),
    ]


def test_a_place(signed_in):
    path = f"/settings/places/{place().pk}"
    assert rows_of(signed_in, path, capacity="7", cold_spot="on", in_use=None) == [
        ("position", "A1", "capacity", "5", "7"),
        ("position", "A1", "cold_spot", "no", "yes"),
        ("position", "A1", "in_use", "yes", "no"),
    ]


def test_a_person(signed_in):
    ben = make_crew()
    path = f"/settings/people/{ben.pk}"
    assert rows_of(signed_in, path, language="es", is_active=None) == [
        ("person", "Ben", "language", "en", "es"), ("person", "Ben", "is_active", "yes", "no"),
    ]  # fmt: skip
    assert rows_of(signed_in, path, role="owner", **new_password()) == [
        ("person", "Ben", "role", "crew", "owner"), ("person", "Ben", "password", "", "set"),
    ]  # fmt: skip


def test_the_farm_and_its_labels(signed_in):
    changes = {"week_start": "6", "temperature_unit": "F", "pin_required": "on"}
    assert rows_of(signed_in, "/settings/farm", **changes) == [
        ("farm", "Test Farm", "temperature_unit", "C", "F"),
        ("farm", "Test Farm", "week_start", "0", "6"),
        ("farm", "Test Farm", "pin_required", "no", "yes"),
    ]
    changes = {"label_address": "http://farm.local:8000", "nudge_x_mm": "1.5"}
    assert rows_of(signed_in, "/settings/labels", **changes) == [
        ("farm", "Test Farm", "label_address", "", "http://farm.local:8000"),
        ("farm", "Test Farm", "nudge_x_mm", "0", "1.5"),
    ]
    assert LabelAddress.objects.get().address == "http://farm.local:8000"


OLD, NEW = "http://farn.local:8000", "http://farm.local:8000"


@pytest.fixture
def mistyped(farm):
    """The owner saved an address with a slip, and the right one an hour later."""
    for hour, address in enumerate((OLD, NEW)):
        farm.label_address = address
        save_row(act(NOW + hour * HOUR), row=farm, values={"label_address": address})
    assert set(LabelAddress.objects.values_list("address", flat=True)) == {OLD, NEW}


def test_an_address_saved_by_mistake_is_taken_off(mistyped, farm):
    (lot,) = make_lots(12)
    for at in (NOW - HOUR, NOW + 2 * HOUR):  # before it was set, and under the right one
        record_prints([(lot, NOW.date())], at)
        make_tags(act(at), count=1)
    forget_address(act(NOW + 3 * HOUR), address=OLD)
    assert LabelAddress.objects.get().address == NEW
    assert ("labeladdress", OLD, "removed", OLD, "") in rows()
    (change,) = Change.objects.filter(field="removed")
    assert change_words(change, farm) == f"{OLD}: taken off the list"
    with pytest.raises(NotOurs):
        read_label(f"{OLD}/L/{Lot.objects.get().pk}", "testserver")


@pytest.mark.parametrize("minutes", [0, 59])
def test_an_address_stays_when_labels_of_crates_were_printed_with_it(mistyped, minutes):
    record_prints([(make_lots(12)[0], NOW.date())], NOW + timedelta(minutes=minutes))
    with refused(Refused("address-printed")):
        forget_address(act(NOW + 2 * HOUR), address=OLD)


def test_an_address_stays_when_tags_were_made_with_it(mistyped):
    make_tags(act(NOW + HOUR / 2), count=1)
    with refused(Refused("address-printed")):
        forget_address(act(NOW + 2 * HOUR), address=OLD)


def test_an_address_that_was_set_again_stays_for_what_was_printed_then(mistyped, farm):
    for hour, address in ((2, OLD), (4, NEW)):
        farm.label_address = address
        save_row(act(NOW + hour * HOUR), row=farm, values={"label_address": address})
    record_prints([(make_lots(12)[0], NOW.date())], NOW + 3 * HOUR)
    with refused(Refused("address-printed")):
        forget_address(act(NOW + 5 * HOUR), address=OLD)


def test_an_address_set_before_changes_were_written_down_stays_while_unsure(farm):
    LabelAddress.objects.create(address=OLD, since=NOW)
    record_prints([(make_lots(12)[0], NOW.date())], NOW + HOUR)
    with refused(Refused("address-printed")):
        forget_address(act(NOW + 2 * HOUR), address=OLD)


@pytest.mark.parametrize(
    ("address", "code"), [(NEW, "address-set"), ("http://x.local", "nothing-changed")]
)
def test_only_another_address_that_was_saved_is_taken_off(mistyped, address, code):
    with refused(Refused(code)):
        forget_address(act(NOW + 2 * HOUR), address=address)


def test_only_the_owner_takes_an_address_off(mistyped):
    crew = act(NOW + 2 * HOUR, person=make_crew())
    with refused(Refused("owner-only")):
        forget_address(crew, address=OLD)


def test_the_page_offers_it_for_those_alone_that_may_go(signed_in, mistyped):
    page = signed_in.get("/settings/labels").content.decode()
    assert page.count("Take it off the list") == 1
    assert "labels carry it now" in page
    sent = {"entry": uuid4(), "address": OLD}
    assert signed_in.post("/settings/labels/forget", sent).status_code == 302
    assert signed_in.post("/settings/labels/forget", sent).status_code == 302
    page = signed_in.get("/settings/labels").content.decode()
    assert OLD not in page
    assert "Take it off the list" not in page


ADDED = [
    ("crops", {"name": "Moor kale", "reference_key": "kale", "unit": "bunch"},
     ("crop", "Moor kale")),
    ("sources", {"name": "Tunnel 2", "kind": "block"}, ("source", "Tunnel 2")),
    ("containers", {"name": "Tub", "tare_kg": "1"}, ("container", "Tub")),
    ("outlets", {"name": "The Heron"}, ("outlet", "The Heron")),
    ("places", {"rack": "q", "shelf": "2"}, ("position", "Q2")),
    ("people", {"name": "Cleo", "new_pin": NEW_PIN}, ("person", "Cleo")),
    ("rooms", {"name": "Bench", "target_c": "12"}, ("room", "Bench")),
]  # fmt: skip


@pytest.mark.parametrize(("name", "values", "row"), ADDED)
def test_what_is_new_is_added(signed_in, name, values, row):
    if name == "places":
        values = values | {"room": Room.objects.get().pk}
    action = send(signed_in, f"/settings/{name}/new", **values)
    first = rows(action=action)[0]
    assert (first[0], first[1], first[2], first[3]) == (*row, "added", "")
    assert first[4].endswith(row[1])


def test_every_list_of_the_owner_is_tried_here():
    assert {name for name, _values, _row in ADDED} == set(LISTS)


def test_a_new_place_and_a_new_room_stand_as_they_were_typed():
    room = Room.objects.get()
    what = {"room": room, "rack": "Q", "shelf": 2, "place": "b", "capacity": 3, "cold_spot": True}
    action = add_place(act(), **what)
    spot = Position.objects.get(rack="Q")
    assert (spot.name, spot.capacity, spot.cold_spot, spot.room) == ("Q2b", 3, True, room)
    assert rows(action=action) == [("position", "Q2b", "added", "", "Cold room Q2b")]
    action = open_room(act(), shelving=Shelving("Bench", Decimal(12), racks=1, shelves=2))
    assert rows(action=action) == [("room", "Bench", "added", "", "Bench")]
    assert Room.objects.get(name="Bench").positions.count() == 2
    assert Room.objects.get(name="Bench").targets.get().target_c == 12


def test_a_crop_switched_on_and_off(signed_in):
    crop = builders.crop("basil")
    for before, after in (("yes", "no"), ("no", "yes")):
        key = uuid4()
        signed_in.post(f"/settings/crops/{crop.pk}/toggle", {"entry": key})
        assert rows(action=key) == [("crop", crop.shown_name, "grown", before, after)]


def test_the_farms_own_record_adopted(signed_in):
    now = timezone.now()
    for lot in looked_at(now, 5):
        inspect(act(now), lot=lot.pk, days=2, seen="limp", judgement="early")
    crop, key = builders.crop(), uuid4()
    page = signed_in.get(f"/settings/crops/{crop.pk}").content.decode()
    days = re.search(r'name="days" value="([\d.]+)"', page)[1]
    signed_in.post(f"/settings/crops/{crop.pk}/adopt", {"entry": key, "days": days})
    crop.refresh_from_db()
    assert f"{crop.keeping_days:g}" == days
    assert rows(action=key) == [("crop", crop.shown_name, "keeping_days", "", days)]
    with refused(Refused("no-offer")):
        adopt_keeping_days(act(), crop=builders.crop("basil"), days=Decimal(days))


def test_another_figure_than_the_button_showed_is_not_adopted(signed_in):
    now, crop = timezone.now(), builders.crop()
    first, *others = looked_at(now, 5)
    inspect(act(now), lot=first.pk, days=2, seen="limp", judgement="early")
    shown = offer(crop)
    for lot in others:
        inspect(act(now), lot=lot.pk, days=2, seen="limp", judgement="early")
    assert offer(crop) != shown
    for days in (shown, Decimal(0)):
        with refused(Refused("other-offer", days=float(offer(crop)))):
            adopt_keeping_days(act(), crop=crop, days=days)
    where = f"/settings/crops/{crop.pk}/adopt"
    for sent in ({"days": str(shown)}, {"days": "x"}, {}):
        answer = signed_in.post(where, {"entry": uuid4(), **sent})
        assert answer.status_code == 422
        assert f"another figure now: {offer(crop):g}." in answer.content.decode()
    assert rows() == []
    adopt_keeping_days(act(), crop=crop, days=offer(crop))
    crop.refresh_from_db()
    assert crop.keeping_days == offer(crop)


def looked_at(now: datetime, crates: int) -> list[Lot]:
    """Crates that were good two days ago, and are nearly as old as kale is said to keep."""
    lots = make_lots(*[12] * crates, at=now - timedelta(days=9))
    for lot in lots:
        inspect(act(now - timedelta(days=2)), lot=lot.pk, days=2, seen="firm")
    return lots


def offer(crop: Crop) -> Decimal:
    found = estimate_of(crop, read_harvests(crop, Farm.objects.get(), timezone.now()))
    return Decimal(str(found.offer))


def test_several_crops_are_switched_at_once_and_each_is_told():
    """Kale is on already and leek off: that is no change."""
    dill, mint, kale, basil, leek = map(builders.crop, ("dill", "mint", "kale", "basil", "leek"))
    action = pick_crops(act(), on=[dill, mint, kale], off=[basil, leek])
    assert rows(action=action) == [
        ("crop", "Dill", "grown", "no", "yes"),
        ("crop", "Mint", "grown", "no", "yes"),
        ("crop", "Basil", "grown", "yes", "no"),
    ]
    grown = Crop.objects.filter(grown=True).values_list("reference_key", flat=True)
    assert set(grown) == {"apple", "salad-mix", "kale", "dill", "mint"}


def test_dates_called_best_before():
    case = make_cases(18, best_before=date(2026, 7, 1))[0]
    case.intake.best_before_kind = ""
    case.intake.save()
    action = call_dates_best_before(act())
    told = ("intake", str(case.intake), "best_before_kind", "", "best before")
    assert rows(action=action) == [told]
    assert rows(action=call_dates_best_before(act())) == []


@pytest.mark.parametrize(
    "do",
    [
        lambda made: save_row(made, row=Room.objects.get(), values={}),
        lambda made: switch_crop(made, crop=builders.crop()),
        lambda made: pick_crops(made, on=[builders.crop("dill")], off=[]),
        lambda made: adopt_keeping_days(made, crop=builders.crop(), days=Decimal(9)),
        call_dates_best_before,
        lambda made: open_room(made, shelving=Shelving("Bench", Decimal(12), 1, 1)),
        lambda made: add_place(
            made, room=Room.objects.get(), rack="Q", shelf=1, place="", capacity=1, cold_spot=False
        ),
    ],
)
def test_only_an_owner_sets_anything(do):
    crew = make_crew()
    with refused(Refused("owner-only")):
        do(act(person=crew))


@pytest.mark.parametrize(
    "path",
    ["/settings/farm", "/settings/labels", "/settings/crops/{crop}", "/settings/outlets/{outlet}",
     "/settings/rooms/{room}", "/settings/people/{person}", "/settings/containers/{container}"],
)  # fmt: skip
@pytest.mark.parametrize("units", [("kg", "C"), ("lb", "F")])
def test_a_form_sent_as_it_was_opened_changes_nothing(signed_in, path, units):
    """Whatever the farm's units: a figure shown rounded is not changed by that."""
    weight, temperature = units
    Farm.objects.update(weight_unit=weight, temperature_unit=temperature)
    Crop.objects.filter(reference_key="kale").update(piece_weight_kg="0.333")
    Room.objects.update(target_c="1.70", band_c="1.30")
    Container.objects.update(tare_kg="1.333")
    keys = {
        "crop": builders.crop(), "outlet": builders.market(), "room": Room.objects.get(),
        "person": builders.owner(), "container": Container.objects.get(),
    }  # fmt: skip
    before = Room.objects.get().target_c
    send(signed_in, path.format(**{name: row.pk for name, row in keys.items()}))
    assert rows() == []
    assert Room.objects.get().target_c == before


def test_a_value_that_stands_already_is_no_change():
    """Named as set, but the same as before: two phones with one form open."""
    room = Room.objects.get()
    room.damp, room.target_c = True, Decimal("2.00")
    action = save_row(act(), row=room, values={"damp": True, "target_c": room.target_c})
    assert rows(action=action) == []


def test_a_form_sent_twice_counts_once(signed_in):
    path = f"/settings/outlets/{builders.market().pk}"
    data = typed(signed_in, path) | {"minimum_days": "3"}
    crop, key = builders.crop("basil"), uuid4()
    for _ in range(2):
        assert signed_in.post(path, data).status_code == 302
        signed_in.post(f"/settings/crops/{crop.pk}/toggle", {"entry": key})
        assert signed_in.post("/settings/outlets/new", new_outlet(data)).status_code == 302
    assert Change.objects.count() == 3
    assert Outlet.objects.filter(name="The Heron").count() == 1
    assert not Crop.objects.get(pk=crop.pk).grown


def new_outlet(data: dict) -> dict:
    other = str(data["entry"]).translate(str.maketrans("0123456789abcdef", "123456789abcdef0"))
    return data | {"entry": other, "name": "The Heron", "kind": "kitchen"}


def every_text(action: Action) -> str:
    """Everything the database keeps of an action and of what it set."""
    kept = [Action.objects.filter(pk=action.pk).values_list(), rows(action=action)]
    return json.dumps([list(map(str, row)) for table in kept for row in table])


def digests(secret: str) -> list[str]:
    return [getattr(hashlib, name)(secret.encode()).hexdigest() for name in ("md5", "sha256")]


def test_of_passwords_and_pins_only_that_they_were_set_is_kept(signed_in):
    ben = make_crew()
    changes = {"new_pin": NEW_PIN} | new_password()
    action = send(signed_in, f"/settings/people/{ben.pk}", **changes)
    assert rows(action=action) == [
        ("person", "Ben", "pin", "", "set"), ("person", "Ben", "password", "", "set"),
    ]  # fmt: skip
    ben.refresh_from_db()
    assert ben.check_pin(NEW_PIN)
    assert ben.check_password(NEW_PASSWORD)
    kept = every_text(action)
    for secret in (NEW_PIN, NEW_PASSWORD):
        for told in (secret, *digests(secret), ben.pin, ben.password):
            assert told not in kept


def test_the_fingerprint_of_an_action_does_not_depend_on_the_secret(signed_in):
    ben = make_crew()
    made = [
        send(signed_in, f"/settings/people/{ben.pk}", new_pin=pin, **new_password(password))
        for pin, password in (("4711", NEW_PASSWORD), ("0815", f"{NEW_PASSWORD}-2"))
    ]
    assert made[0].fingerprint == made[1].fingerprint


def test_only_the_owner_opens_a_closed_alarm_again(farm):
    spell = {"started_at": 0.0, "ended_at": 7200.0, "side": "warm", "peak_c": 9.0}
    closing = close_alarm(act(), room=Room.objects.get(), **spell, done="iced up")
    ben = builders.make_crew()
    with refused(Refused("owner-only")):
        reopen_alarm(act(person=ben), closing=closing)
    reopen_alarm(act(), closing=closing)
    assert not AlarmClosing.objects.exists()
    change = Change.objects.get()
    assert (change.subject, change.name, change.before, change.after) == (
        "alarmclosing", "Cold room", "iced up (Ada)", "",
    )  # fmt: skip


def test_what_was_set_is_not_undone_by_undo(signed_in):
    set_target(5)
    action = Action.objects.get(kind="change")
    with refused(Refused("undo-of-change")):
        undo(act(), action=action)
    answer = signed_in.post(f"/undo/{action.pk}", {"entry": uuid4()})
    assert answer.status_code == 422
    assert Room.objects.get().target_c == 5
    page = signed_in.get(f"/done/{action.pk}")
    assert page.status_code == 200
    assert not page.context["can_undo"]


def test_what_was_set_is_on_the_page_of_what_happened_under_its_own_filter(signed_in):
    make_lots(12, at=timezone.now())
    set_target(5, timezone.now())
    page = signed_in.get("/ledger", {"what": "set"}).content.decode()
    assert "Cold room: kept at, 2 °C → 5 °C" in page
    assert "brought in" not in page
    assert "kept at, 2" not in signed_in.get("/ledger").content.decode()


def test_what_was_set_is_found_by_who_and_by_day(signed_in):
    now = timezone.now()
    set_target(5, now - timedelta(days=40))
    ada, ben = builders.owner(), make_crew()
    day = builders.act().local_day(now - timedelta(days=40))

    def found(**search) -> int:
        return len(signed_in.get("/ledger", {"what": "set"} | search).context["page"].rows)

    assert found() == found(person=ada.pk) == 1
    assert found(person=ben.pk) == 0
    assert found(from_day=day.isoformat(), to_day=day.isoformat()) == 1
    assert found(from_day=(day + timedelta(days=1)).isoformat()) == 0
    assert found(to_day=(day - timedelta(days=1)).isoformat()) == 0


def test_only_the_owner_says_what_a_market_usually_sells():
    habit = Habit(builders.crop(), "bunch", Decimal(40), None)
    crew = act(person=make_crew())
    with refused(Refused("owner-only")):
        set_habits(crew, outlet=builders.market(), habits=[habit])
