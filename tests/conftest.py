import pytest
from hypothesis import HealthCheck, settings

from inventory.lives import logs
from tests import builders

pytest.register_assert_rewrite("tests.refusing")
# No example is wrong because the machine was slow.
settings.register_profile("any speed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any speed")


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


@pytest.fixture
def later(settings):
    """The program as it will be after an update: with a migration that is not applied yet."""
    settings.MIGRATION_MODULES = {"inventory": "tests.upkeep.later"}
