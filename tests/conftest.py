import gc
import os
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, settings

HERE = Path(__file__).parent
# What runs without Django (-p no:django): the tests of the pure rooms, see test_rooms.py.
PURE = (
    "keeping", "rotation", "codes", "learning", "test_measures.py", "test_logger_columns.py",
    "test_logger_files.py", "test_order_text.py", "test_order_words.py", "ledger/test_fold.py",
    "ledger/test_replay.py", "lives/test_rooms.py", "lives/test_stays.py", "lives/test_clocks.py",
    "lives/test_losses.py", "upkeep/test_due.py",
)  # fmt: skip
# What one stored farm is updated for is looked at by one process; so is the demo that was loaded.
TOGETHER = ("tests/migrations/test_stored_databases.py", "tests/browser/test_first_start.py")

pytest.register_assert_rewrite("tests.refusing")
# No example is wrong because the machine was slow. New ones are looked for on the machines of those
# who write; CI judges a change by the same each time.
settings.register_profile(
    "any speed",
    deadline=None,
    max_examples=50,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=bool(os.environ.get("CI")),
)
# For tests/bench/bench_mutants.py: always the same few examples, and any failure will do.
settings.register_profile(
    "faults",
    settings.get_profile("any speed"),
    max_examples=25,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
)
settings.load_profile("any speed")


def pytest_addoption(parser):
    if "pytest_django" not in sys.modules:
        parser.addini("DJANGO_SETTINGS_MODULE", "Not read: there is no Django.")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    # Marks of a group went unheard: pytest 9.2 has another way to name a test than xdist 3.8 knows
    # (pytest-xdist, issue 1386).
    from xdist.scheduler import LoadScopeScheduling

    class OneByOne(LoadScopeScheduling):
        def _split_scope(self, nodeid):
            return nodeid.split("::")[0] if nodeid.startswith(TOGETHER) else nodeid

    return OneByOne(config, log)


def pytest_collection_finish():
    # What was imported and collected is there to the end: no search for garbage walks through it.
    gc.collect()
    gc.freeze()


def pytest_ignore_collect(collection_path, config):
    if config.pluginmanager.has_plugin("django"):
        return None
    pure = [HERE / name for name in PURE]
    within = any(collection_path.is_relative_to(path) for path in pure)
    return None if within or any(path.is_relative_to(collection_path) for path in pure) else True


@pytest.fixture(autouse=True)
def _no_logs_of_another_test():
    for name in ("inventory.lives.logs", "inventory.lives.entries"):
        if kept := sys.modules.get(name):
            kept.forget()


@pytest.fixture(scope="session", autouse=True)
def _emptied_quickly():
    """After a test whose rows were committed, only what a test may have written is taken away.

    PostgreSQL takes half a second to truncate all tables; tests leave few rows in few. Which
    models there are, and who might do what with them, is filled in by the migrations and the
    same for every test: writing it again costs more than all the rest.
    """
    if "pytest_django" not in sys.modules:
        return
    from django.core.management.commands import flush

    def delete(style, connection, **_how):
        tables = connection.introspection.django_table_names(only_existing=True)
        emptied = sorted({*tables} - {"django_content_type", "auth_permission"})
        return [f"DELETE FROM {connection.ops.quote_name(table)};" for table in emptied]

    flush.sql_flush = delete
    flush.emit_post_migrate_signal = lambda *_told, **_how: None


@pytest.fixture
def farm(db):
    from tests import builders

    return builders.make_farm()


@pytest.fixture
def signed_in(client, farm):
    """A test client at the owner's own phone."""
    from tests import builders

    builders.sign_in(client)
    return client


@pytest.fixture
def later(settings):
    """The program as it will be after an update: with a migration that is not applied yet."""
    settings.MIGRATION_MODULES = {"inventory": "tests.upkeep.later"}
