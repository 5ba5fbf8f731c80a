from decimal import Decimal

from inventory.models import Code, Intake, Lot, Parentage, Source
from tests.builders import NOW, crop, make_lots, place
from tests.models.test_ledger import make_action


def make_intake(**changes) -> Intake:
    values = {"crop": crop(), "source": Source.objects.get(name="Bed 3"), "arrived_at": NOW}
    return Intake.objects.create(lot_code="B3", **values | changes)


def make_bare_lot(text: str, **changes) -> Lot:
    """A crate without a ledger: only the columns that a test is about."""
    code = Code.objects.create(text=text)
    return Lot.objects.create(code=code, crop=crop(), unit="bunch", born_with=4, **changes)


def test_an_intake_is_cut_or_packed_not_both(farm, refused):
    make_intake(action=make_action(), cut_at=NOW)
    make_intake(action=make_action(), packed_on=NOW.date())
    make_intake(action=make_action())
    with refused():
        make_intake(action=make_action(), cut_at=NOW, packed_on=NOW.date())


def test_only_a_date_has_a_kind(farm, refused):
    for kind in ("", "best before", "sell by", "use by"):
        make_intake(action=make_action(), best_before=NOW.date(), best_before_kind=kind)
    make_intake(action=make_action(), best_before=None, best_before_kind="")
    for kind in ("best before", "sell by", "use by"):
        with refused():
            make_intake(action=make_action(), best_before=None, best_before_kind=kind)


def test_intake_action_is_unique(farm, refused):
    action = make_action()
    make_intake(action=action)
    make_intake(action=make_action())
    with refused():
        make_intake(action=action)


def test_quantity_is_not_negative(farm, refused):
    make_bare_lot("LOT0001", state="to put away", quantity=0)
    with refused():
        make_bare_lot("LOT0002", state="to put away", quantity=Decimal("-0.001"))


def test_position_is_set_only_in_place(farm, refused):
    make_bare_lot("LOT0001", state="in place", position=place())
    make_bare_lot("LOT0002", state="to put away", position=None)
    with refused():
        make_bare_lot("LOT0003", state="in place", position=None)
    for state in ("to put away", "out", "empty", "void"):
        with refused():
            make_bare_lot("LOT0003", state=state, position=place())


def test_only_crates_in_the_house_hold_anything(farm, refused):
    make_bare_lot("LOT0001", state="in place", position=place(), quantity=4)
    make_bare_lot("LOT0002", state="to put away", quantity=4)
    make_bare_lot("LOT0003", state="out", quantity=0)
    for state in ("out", "empty", "void"):
        with refused():
            make_bare_lot("LOT0004", state=state, quantity=Decimal("0.001"))


def test_one_link_per_parent(farm, refused):
    child, parent, another = make_lots(4, 4, 4)
    Parentage.objects.create(child=child, parent=parent, quantity=2, at=NOW)
    Parentage.objects.create(child=child, parent=another, quantity=2, at=NOW)
    Parentage.objects.create(child=another, parent=parent, quantity=2, at=NOW)
    with refused():
        Parentage.objects.create(child=child, parent=parent, quantity=2, at=NOW)


def test_no_crate_is_its_own_parent(farm, refused):
    child, parent = make_lots(4, 4)
    Parentage.objects.create(child=child, parent=parent, quantity=4, at=NOW)
    with refused():
        Parentage.objects.create(child=child, parent=child, quantity=4, at=NOW)
