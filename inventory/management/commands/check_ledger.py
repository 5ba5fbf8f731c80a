"""Refold the whole ledger and report every crate whose stored columns differ from it."""

from django.core.management.base import BaseCommand, CommandError

from inventory.upkeep.checking import check_ledger


class Command(BaseCommand):
    help = "Refold the ledger and report crates whose stored state differs. Writes nothing."

    def handle(self, *args, **options):
        checked, wrong = check_ledger()
        for line in wrong:
            self.stdout.write(line)
        if wrong:
            raise CommandError(f"{len(wrong)} differences in {checked} crates")
        self.stdout.write(f"{checked} crates agree with the ledger")
