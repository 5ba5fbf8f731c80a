"""A migration that farms have run is never edited: what changes later is a migration of its own."""

import hashlib
from pathlib import Path

import pytest

from inventory import migrations

# The first half of each file's SHA-256.
LANDED = {
    "0001_first_tables": "f8ff2f27661efed5ae061e12fedb3d11",
    "0002_buyers_by_key": "293b1acae3e34496d8aeda464cbd4647",
    "0003_fill_buyers": "4e0f8f3c1145cd292fda0b56e98babee",
    "0004_who_should_have_gone_first": "75e95e6ceeebbb7c1a19fc841e066b68",
    "0005_targets_with_their_times": "9baa26c06c8ce9ac8f1dd30718919167",
    "0006_fill_targets": "386297e3947f63a30187ef01f6de1c3a",
    "0007_kinds_of_case_dates": "5ccf85f7a8986ea88ae374afd6ead08a",
    "0008_tags_and_changes_are_entries": "7be3da0d56df10783799069552549944",
    "0009_still_good": "331ec47005448dfde6279de2b27166d7",
    "0010_where_the_farm_is": "6abbe3978b7466a329131dc4d947e13c",
    "0011_sent_back": "cc79873cc6ad87619432f9fd22c5d559",
    "0012_plainer_labels": "eab0c3a037cb96aeb00a7c7153ddb704",
    "0013_farm_on_labels": "7ee428bd6b11e7d5be1a678f5f2262c0",
}


@pytest.mark.parametrize(("name", "digest"), LANDED.items(), ids=list(LANDED))
def test_a_migration_is_as_it_landed(name, digest):
    file = Path(migrations.__path__[0]) / f"{name}.py"
    assert hashlib.sha256(file.read_bytes()).hexdigest()[:32] == digest
