"""Take up what `export_all` wrote, into an empty installation."""

from pathlib import Path

from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from inventory.management.farm_command import FarmCommand
from inventory.upkeep.exports import BadExport, import_all


class Command(FarmCommand):
    help = "Take up a zip of export_all into an empty installation, all of it or nothing."

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)

    def handle(self, *args, **options):
        call_command("migrate", verbosity=0, interactive=False)
        try:
            rows = import_all(connection, options["file"])
        except (BadExport, OSError) as error:
            raise CommandError(f"{error} Nothing was written.") from error
        self.stdout.write(f"{sum(rows.values())} rows of {len(rows)} tables. The ledger agrees.")
