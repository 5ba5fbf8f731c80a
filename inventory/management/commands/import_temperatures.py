"""Take up a data logger's CSV file from the command line."""

import time
import uuid
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from django.core.management.base import CommandError
from django.utils import timezone

from inventory.actions.imports import (
    change_columns,
    confirm_columns,
    keep_file,
    need_rest,
    read_columns,
    take_up_chunk,
)
from inventory.errors import Refused
from inventory.ledger.book import Act
from inventory.logger_files import (
    Columns,
    NotALog,
    body_rows,
    figure_names,
    in_other_order,
    is_day_first,
    with_columns,
)
from inventory.management.farm_command import FarmCommand
from inventory.models import Farm, Person, Room, TemperatureFile
from inventory.upkeep.loading import PAUSE_S, turn
from inventory.words.refusals import sentence


class Command(FarmCommand):
    help = "Take up a logger's CSV file. The same file again adds nothing."

    def add_arguments(self, parser):
        parser.add_argument("room", help="name of the room")
        parser.add_argument("file", type=Path)
        parser.add_argument("--sensor", default="logger", help="its name, if there are several")
        parser.add_argument("--unit", choices=["C", "F"], help="if the file does not say")
        parser.add_argument("--column", help="heading of the temperature, if the file does not say")
        parser.add_argument(
            "--first", choices=["day", "month"], help="what comes first in its dates"
        )
        parser.add_argument("--dry-run", action="store_true", help="only say what would be read")

    def handle(self, *args, room, file, sensor, unit, column, first, dry_run, **options):
        found = Room.objects.filter(name__iexact=room).first()
        owner = Person.objects.filter(role=Person.Role.OWNER).order_by("pk").first()
        if found is None or owner is None:
            raise CommandError(f"There is no room called {room}.")
        if not file.is_file():
            raise CommandError(f"There is no file {file}.")
        farm, at = Farm.objects.get(), timezone.now()
        act = Act(id=uuid.uuid4(), person=owner, farm=farm, at=at)
        data = file.read_bytes()
        try:
            text, guessed = read_columns(data, farm.temperature_unit)
        except Refused as refusal:
            raise CommandError(f"This is no temperature log: {refusal.code}.") from refusal
        columns = self.settled(self.with_figure(text, guessed, column), unit, first)
        rows = sum(1 for _ in body_rows(text, columns))
        self.stdout.write(f"{rows} rows, read as {columns.as_dict()}")
        if dry_run:
            return
        kept = keep_file(act, room=found, sensor=sensor, data=data)
        change_columns(kept, columns)
        kept = confirm_columns(kept)
        while not kept.is_done:
            self.go_on(kept, farm, at)
            time.sleep(PAUSE_S)
        self.stdout.write(
            f"{kept.added} new, {kept.already_there} known already, {kept.set_aside} set aside, "
            f"{len(kept.bad_rows)} could not be read"
        )

    def go_on(self, kept: TemperatureFile, farm: Farm, at: datetime) -> None:
        """Take up the next piece, or see that the watch still can, which does it else."""
        try:
            with turn() as ours:
                if ours:
                    take_up_chunk(kept.pk, farm, at)
            kept.refresh_from_db()
            need_rest(kept)
        except Refused as refusal:
            raise CommandError(sentence(refusal)) from refusal

    def with_figure(self, text: str, columns: Columns, name: str | None) -> Columns:
        """Return the columns with the temperature in the one so headed, as far as one is named."""
        names = figure_names(text, columns)
        choices = ", ".join(names.values())
        if name is None:
            if columns.figure_unsure:
                raise CommandError(f"Which is the temperature? Say --column with one of: {choices}")
            return columns
        found = [number for number, each in names.items() if each.lower() == name.strip().lower()]
        if not found:
            raise CommandError(f"No column {name} holds numbers. There are: {choices}")
        time = (columns.date_column, columns.time_column)
        try:
            return with_columns(text, columns, time, found[0])
        except NotALog as error:
            raise CommandError(f"This column can't be read: {error.reason}.") from error

    def settled(self, columns: Columns, unit: str | None, first: str | None) -> Columns:
        """Return the columns as the options say, where the file does not."""
        day_first = is_day_first(columns)
        if columns.unsure and first is None:
            raise CommandError("Its dates can be read in two ways: say --first day or month.")
        if day_first is not None and first is not None and (first == "day") != day_first:
            columns = in_other_order(columns)
        if columns.unit_unsure and unit is None:
            raise CommandError("Nothing tells the unit of its temperatures: say --unit C or F.")
        return replace(columns, unit=unit or columns.unit, unit_unsure=False)
