from contextlib import contextmanager

import pytest
from django.db import IntegrityError, transaction

from tests.models.constraints import all_rules, engine_name, engine_said


@pytest.fixture
def refused(db, request):
    """Expect the database to refuse a row by the rule the test is named after, at least once."""
    rule = all_rules()[request.function.__name__.removeprefix("test_")]
    times = 0

    @contextmanager
    def by_the_rule():
        nonlocal times
        with pytest.raises(IntegrityError) as caught, transaction.atomic():
            yield
        assert engine_said(caught.value) == engine_name(*rule)
        times += 1

    yield by_the_rule
    assert times, "nothing was refused"
