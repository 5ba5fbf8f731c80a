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
    "0014_taken_back": "2ae024e487cd7309077f72e4bf7193f0",
    "0015_orders": "a197b8297666966f4197237ee6b84d44",
    "0016_order_book": "a6008c47fd9ca022722bdffc3ea24400",
    "0017_fill_order_book": "2fbf64a37a8a418bfb94dbfe729147e2",
    "0018_only_takes": "4ff4e6bc720044f0791c93379e7926cb",
    "0019_sunday_walk": "cc7eb2114b35f89c1265812a6d546d8f",
    "0020_handing_over": "7f2a76426d34392da4114cb3374d20da",
    "0021_photos_and_public_slips": "26ce2a63d19b621c883783b87a5d3e36",
    "0022_the_watch": "5a088993c09dd4c28170ed770fd65609",
    "0023_flat_cost": "703632919d6350d17cf022ae26953695",
    "0024_doors": "e902b24bb4d8ec4991579453df0c9978",
    "0025_weekly_sums": "fa15ffe126e3d746bf6bcb71e23b3b4d",
    "0026_market_days": "47c0a5d8a858fe899b0dc25a2b4fac88",
    "0027_waste_aim": "340407234c328d05bfa901d01ff9d324",
    "0029_suggestions": "f07944e7084bb01f7a4f250192e1ea44",
    "0030_crates_left": "e8ceeac32bfa656b93940c3565d79546",
    "0031_week_mail": "efa86c9b69755160249dc5914c5022d7",
    "0032_week_losses": "18c5e78f5fb8f2435b3b9c0581a88ae6",
    "0033_lot_stamps": "004207309d75e2662850a257ed4b121f",
    "0034_week_records": "df3e9ec7abe75216cda3df86232bd0c2",
    "0035_late_log_changes": "ba3f30ee9f24b630de18db108927cb10",
    "0036_flat_forms": "f250a0d97f48809a698709b7533801ea",
}


@pytest.mark.parametrize(("name", "digest"), LANDED.items(), ids=list(LANDED))
def test_a_migration_is_as_it_landed(name, digest):
    file = Path(migrations.__path__[0]) / f"{name}.py"
    assert hashlib.sha256(file.read_bytes()).hexdigest()[:32] == digest
