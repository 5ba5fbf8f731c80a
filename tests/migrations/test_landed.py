"""A migration that farms have run is never edited: what changes later is a migration of its own."""

import hashlib
from pathlib import Path

import pytest

from inventory import migrations

LANDED = {
    "0001_first_tables": "f8ff2f27661efed5ae061e12fedb3d1169fc712a01c86742e252bb4773e070b3",
}


@pytest.mark.parametrize(("name", "digest"), LANDED.items(), ids=list(LANDED))
def test_a_migration_is_as_it_landed(name, digest):
    file = Path(migrations.__path__[0]) / f"{name}.py"
    assert hashlib.sha256(file.read_bytes()).hexdigest() == digest
