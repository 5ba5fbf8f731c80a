"""The farm while its log is being written: the clock, the crew, and chance with a seed."""

import random
from dataclasses import dataclass, field
from datetime import date, datetime, time
from uuid import UUID

from django.db.models import Q

from inventory.ledger.book import Act
from inventory.models import Crop, Farm, Person, Position
from inventory.queries.crates import Crate, crates_here
from inventory.queries.rooms import places_for


@dataclass
class Season:
    farm: Farm
    now: datetime
    chance: random.Random
    people: dict[str, Person] = field(default_factory=dict)

    @property
    def today(self) -> date:
        return self.day_of(self.now)

    def day_of(self, at: datetime) -> date:
        return at.astimezone(self.farm.zone).date()

    def at(self, day: date, hour: int, minute: int = 0) -> datetime:
        return datetime.combine(day, time(hour, minute), self.farm.zone)

    def act(self, who: str, at: datetime) -> Act:
        person = self.people[who]
        return Act(
            id=UUID(int=self.chance.getrandbits(128), version=4),
            person=person,
            farm=self.farm,
            at=min(at, self.now),
            as_owner=person.is_owner,
            proven=person.is_owner,
            choose=self.chance.choice,
        )

    def crop(self, key: str) -> Crop:
        return Crop.objects.get(reference_key=key)

    def crates(self, at: datetime, **where: object) -> list[Crate]:
        return crates_here(self.farm, at, Q(**where) if where else None)

    def good_place(self, crop: Crop, crates: int = 1) -> Position:
        choices = [choice for choice in places_for(crop, crates) if not choice.harm]
        good = [choice.position for choice in choices if choice.suggested]
        return good[0] if good else max(choices, key=lambda choice: choice.free).position
