"""Everything the farm's log holds, as CSV files in one zip."""

from pathlib import Path

from django.core.management.base import CommandError
from django.db import connection

from inventory.management.farm_command import FarmCommand
from inventory.upkeep.exports import export_all


class Command(FarmCommand):
    help = "Write every table as CSV, with its columns explained, into one zip."

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)

    def handle(self, *args, **options):
        try:
            rows = export_all(connection, options["file"].absolute())
        except OSError as error:
            raise CommandError(f"There is no export: {error}") from error
        self.stdout.write(f"{sum(rows.values())} rows of {len(rows)} tables")
        self.stdout.write(str(options["file"].absolute()))
