from decimal import Decimal

from inventory.models import Action, Estimate, Source
from tests.builders import NOW, crop, owner
from tests.models.test_ledger import make_action


def new_estimate(**changes) -> Estimate:
    values = {
        "crop": crop(), "block": Source.objects.get(name="Bed 3"), "unit": "bunch",
        "quantity": 60, "from_day": NOW.date(), "said_by": owner(), "said_at": NOW,
    }  # fmt: skip
    if "action" not in changes:
        values["action"] = make_action(kind=Action.Kind.WALK)
    return Estimate(**values | changes)


def test_a_block_gives_no_less_than_0(farm, refused):
    new_estimate(quantity=0).save()
    with refused():
        new_estimate(quantity=Decimal("-0.001")).save()


def test_a_walk_says_a_crop_of_a_block_once(farm, refused):
    first = new_estimate()
    first.save()
    new_estimate().save()
    new_estimate(action=first.action, unit="kg").save()
    new_estimate(action=first.action, crop=crop("apple")).save()
    bed = Source.objects.create(kind="block", name="Bed 4")
    new_estimate(action=first.action, block=bed).save()
    with refused():
        new_estimate(action=first.action).save()
