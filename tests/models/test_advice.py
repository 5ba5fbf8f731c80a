import pytest

from inventory.models import Suggestion
from tests.builders import NOW, crop
from tests.models.test_ledger import make_action


def answered(**changes) -> Suggestion:
    values = {
        "week": NOW.date(), "rule": "cut less", "crop": crop(), "unit": "bunch", "about": "2",
        "answer": "accepted", "before": 3, "proposed": 2, "figure": 2, "outcome": 12,
    }  # fmt: skip
    if "action" not in changes:
        values["action"] = make_action(kind="advice")
    return Suggestion(**values | changes)


@pytest.mark.usefixtures("farm")
def test_suggestion_action_is_unique(refused):
    first = answered()
    first.save()
    answered().save()
    with refused():
        answered(action=first.action).save()


@pytest.mark.usefixtures("farm")
def test_what_is_to_be_done_is_no_less_than_0(refused):
    answered(figure=0).save()
    with refused():
        answered(figure=-1).save()
