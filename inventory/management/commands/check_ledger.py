"""Refold the whole ledger and report every crate whose stored columns differ from it."""

from django.core.management.base import CommandError

from inventory.management.farm_command import FarmCommand
from inventory.upkeep.refold import refold_ledger


class Command(FarmCommand):
    help = "Refold the ledger; report crates and weeks whose stored figures differ. Writes nothing."

    def handle(self, *args, **options):
        refolded = refold_ledger()
        for line in refolded.differences:
            self.stdout.write(line)
        if refolded.differences:
            raise CommandError(
                f"{len(refolded.differences)} differences in {refolded.crates} crates"
            )
        self.stdout.write(f"{refolded.crates} crates agree with the ledger")
