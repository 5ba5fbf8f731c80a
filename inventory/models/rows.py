"""How rows that are read, or written, by the hundred become objects."""

from collections.abc import Collection
from typing import Any, Self

from django.db import models
from django.db.models.base import ModelState


class ReadByTheHundred(models.Model):
    """A row that is made straight from its columns, in about a quarter of the time.

    Django sets each field through its descriptor, which has nothing to look after in one that is
    just being read, and sends signals that nobody here listens to. What is not among the columns
    is read when it is asked, as ever.
    """

    class Meta:
        abstract = True

    @classmethod
    def from_db(
        cls,
        db: str | None,
        field_names: Collection[str],
        values: Collection[Any],
        **by_a_later_django: Any,
    ) -> Self:
        if by_a_later_django:
            return super().from_db(db, field_names, values, **by_a_later_django)
        made = cls.__new__(cls)
        state = ModelState()
        state.adding, state.db = False, db
        made.__dict__.update(zip(field_names, values, strict=True), _state=state)
        return made

    def alike(self, **columns: Any) -> Self:
        """Return a new row with the columns of this one but for those named, by their own names.

        In a fifth of the time of a copy. Of rows that it refers to only their keys are in it.
        """
        made = type(self).__new__(type(self))
        made.__dict__.update(self.__dict__, _state=ModelState(), **columns)
        return made
