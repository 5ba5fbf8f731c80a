"""What a new farm is told to do next, on What now."""

from inventory.models import Crop, Farm, Person
from tests import builders

PICK = "/settings/crops/pick"


def test_the_next_steps_are_told_to_the_owner_until_they_are_done(client, farm):
    Crop.objects.update(grown=False)
    builders.sign_in(client)
    page = client.get("/").content.decode()
    links = [PICK, "/settings/people/new", "/settings/labels"]
    assert [link for link in links if f'href="{link}"' in page] == links
    Crop.objects.filter(reference_key="kale").update(grown=True)
    Person.objects.create(name="Ben")
    page = client.get("/").content.decode()
    assert [link for link in links if f'href="{link}"' in page] == links[2:]
    Farm.objects.update(label_address="http://farm.local:8000")
    assert "To begin with" not in client.get("/").content.decode()


def test_crew_are_told_no_steps(client, farm):
    builders.sign_in(client, builders.make_crew())
    assert "To begin with" not in client.get("/").content.decode()
