"""A dated copy of everything, made while people write and opened before it counts."""

from argparse import ArgumentTypeError
from pathlib import Path

from django.core.management.base import CommandError
from django.db import connection
from django.utils import timezone

from inventory.management.farm_command import FarmCommand
from inventory.upkeep.backup import can_open, make_backup, own_copies
from inventory.upkeep.copies import NoCopy


class Command(FarmCommand):
    help = "Copy the whole farm into one dated file, open it and refold its ledger."

    def add_arguments(self, parser):
        parser.add_argument("--to", type=Path, metavar="FOLDER", help="where it goes")
        parser.add_argument(
            "--keep", type=at_least_one, metavar="N",
            help="delete older ones of this command's there, so that N stay",
        )  # fmt: skip

    def handle(self, *args, **options):
        folder = (options["to"] or own_copies()).absolute()
        try:
            copy = make_backup(connection, folder, timezone.now(), keep=options["keep"])
        except NoCopy as reason:
            raise CommandError(f"There is no copy: {reason}") from reason
        if can_open(connection):
            self.stdout.write("It was opened, and its ledger agrees.")
        else:
            self.stdout.write(
                "It was read to its end. To be opened too, it needs psql and a role that may "
                "make databases."
            )
        self.stdout.write(str(copy))


def at_least_one(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise ArgumentTypeError("a whole number from 1 on")
    return int(text)
