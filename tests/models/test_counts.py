from inventory.models import CountRound, CountSeen
from tests.builders import NOW, make_lots, owner, place


def test_a_crate_is_seen_once_a_round(farm, refused):
    first, second = (CountRound.objects.create(person=owner(), started_at=NOW) for _ in range(2))
    lot, neighbour = make_lots(4, 4)
    sight = {"position": place(), "at": NOW}
    CountSeen.objects.create(round=first, lot=lot, **sight)
    CountSeen.objects.create(round=first, lot=neighbour, **sight)
    CountSeen.objects.create(round=second, lot=lot, **sight)
    with refused():
        CountSeen.objects.create(round=first, lot=lot, **sight)
