import inspect
import pkgutil
from importlib import import_module

from tests import models
from tests.models.constraints import all_rules


def provoking_tests() -> set[str]:
    """Return what the tests of this folder are named after that have a row refused."""
    modules = [
        import_module(f"{models.__name__}.{found.name}")
        for found in pkgutil.iter_modules(models.__path__)
    ]
    functions = [
        named for module in modules for named in inspect.getmembers(module, inspect.isfunction)
    ]
    return {
        name.removeprefix("test_")
        for name, function in functions
        if name.startswith("test_") and "refused" in inspect.signature(function).parameters
    }


def test_each_constraint_and_unique_field_is_provoked_by_a_test_of_its_name():
    assert set(all_rules()) == provoking_tests()
