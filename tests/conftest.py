import pytest

from inventory.lives import logs
from tests import builders

pytest.register_assert_rewrite("tests.refusing")


@pytest.fixture(autouse=True)
def _no_logs_of_another_test():
    logs.forget()


@pytest.fixture
def farm(db):
    return builders.make_farm()


@pytest.fixture
def signed_in(client, farm):
    """A test client at the owner's own phone."""
    builders.sign_in(client)
    return client
