from inventory.models import Guess, Person
from tests.builders import NOW, make_crew
from tests.models.constraints import unclean


def test_people_are_told_apart_by_name(refused):
    make_crew("Ben")
    make_crew("Bea")
    assert unclean(Person(name="BEN", password="!")) == {"name-taken"}
    with refused():
        make_crew("BEN")


def test_one_guess_count_per_device_and_person(refused):
    Guess.objects.create(device="phone 1", person_name="Ben", last_at=NOW)
    Guess.objects.create(device="phone 1", person_name="Bea", last_at=NOW)
    Guess.objects.create(device="phone 2", person_name="Ben", last_at=NOW)
    again = Guess(device="phone 1", person_name="Ben", last_at=NOW)
    assert unclean(again) == {"unique_together"}
    with refused():
        again.save()
