"""What is refused is refused whole."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.apps import apps

from inventory.errors import Refused


@contextmanager
def refused(expected: Refused) -> Iterator[None]:
    """What is done inside is refused with this code, field and facts, and writes nothing."""
    before = _every_row()
    with pytest.raises(Refused) as told:
        yield
    found = told.value
    assert type(found) is type(expected)
    assert (found.code, found.field, found.facts) == (expected.code, expected.field, expected.facts)
    assert _every_row() == before


def refusal(code: str):
    """What is done inside is refused with this code."""
    return pytest.raises(Refused, match=code)


def _every_row() -> dict[str, list[tuple]]:
    models = apps.get_app_config("inventory").get_models(include_auto_created=True)
    return {
        model._meta.label: list(model._base_manager.order_by("pk").values_list())
        for model in models
    }
