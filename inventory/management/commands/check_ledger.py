"""Refold the whole ledger and report every crate whose stored columns differ from it."""

from itertools import groupby

from django.core.management.base import BaseCommand, CommandError

from inventory.ledger.book import FOLDED_FIELDS
from inventory.ledger.fold import fold
from inventory.models import Lot, Movement


class Command(BaseCommand):
    help = "Refold the ledger and report crates whose stored state differs. Writes nothing."

    def handle(self, *args, **options):
        lots = Lot.objects.in_bulk()
        checked, wrong = 0, []
        movements = Movement.objects.order_by("lot_id", "pk").iterator(chunk_size=5000)
        for code, entries in groupby(movements, key=lambda act: act.lot_id):
            lot = lots.pop(code)
            checked += 1
            wrong += list(differences(lot, entries))
        wrong += [f"{code}: no entry at all" for code in lots]
        for line in wrong:
            self.stdout.write(line)
        if wrong:
            raise CommandError(f"{len(wrong)} differences in {checked} crates")
        self.stdout.write(f"{checked} crates agree with the ledger")


def differences(lot: Lot, entries):
    """Yield a line for each column of a crate that differs from its entries."""
    folded = fold(entries)
    for name in FOLDED_FIELDS:
        stored, booked = getattr(lot, name), getattr(folded, name)
        if stored != booked:
            yield f"{lot.pk}: {name} is {stored}, the ledger says {booked}"
