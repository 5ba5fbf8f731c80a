"""Put a copy made by `backup` in the place of what is there."""

from pathlib import Path

from django.core.management.base import CommandError
from django.db import connection
from django.utils import timezone

from inventory.management.farm_command import FarmCommand
from inventory.upkeep.copies import NoCopy
from inventory.upkeep.restoring import WouldReplace, restore


class Command(FarmCommand):
    help = "Open a copy made by backup and put it in the place of what is there."
    needs_sound_database = False  # a copy is what helps

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)
        parser.add_argument("--replace", action="store_true", help="other data may be replaced")

    def handle(self, *args, **options):
        try:
            holds, kept = restore(
                connection, options["file"], timezone.now(), replace=options["replace"]
            )
        except WouldReplace as there:
            raise CommandError(
                f"This would replace {there}. If that is meant, say so with --replace. "
                "Nothing was changed."
            ) from there
        except NoCopy as reason:
            said = str(reason).rstrip(".")
            raise CommandError(f"{said}. Nothing was changed.") from reason
        if kept:
            self.stdout.write(f"What was there is kept in {kept} until you delete it.")
        self.stdout.write(f"Restored {holds}. Start the program as before.")
