"""Every table as CSV in one zip, and back into an empty installation: lossless, on any database.

Which tables and columns there are is asked of the models, so that no later one is forgotten.
"""

import csv
import io
import json
import os
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.color import no_style
from django.db import DatabaseError, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import DecimalField, Field, ForeignKey, Model
from django.utils.translation import override

from inventory.ledger.weeks import forget_losses
from inventory.upkeep.backup import carried
from inventory.upkeep.columns import meaning
from inventory.upkeep.refold import refold_ledger
from inventory.upkeep.tables import holds_rows

NOTHING = r"\N"
BATCH = 1000
MOST_IN_A_FIELD = 2**31 - 1
README = "README.txt"
COLUMNS = "COLUMNS.csv"
_PLAINLY = {
    **dict.fromkeys(["CharField", "TextField"], "text"),
    **dict.fromkeys(
        [
            "BigAutoField",
            "BigIntegerField",
            "IntegerField",
            "PositiveIntegerField",
            "PositiveSmallIntegerField",
        ],
        "whole number",
    ),
    "BooleanField": "True | False",
    "DateField": "day",
    "DateTimeField": "moment",
    "DecimalField": "decimal",
    "FloatField": "number",
    "JSONField": "JSON",
    "TimeField": "time of day",
    "UUIDField": "id",
}
_TABLES, _FILES = "tables/", "files/"

_README = r"""Everything this farm's log holds: one CSV file a table, in the folder tables.

manage.py import_all puts it into an empty installation, on SQLite or PostgreSQL alike.

- UTF-8, commas, the first row names the columns; COLUMNS.csv says what each one is.
- \N stands for nothing at all, which is not the same as an empty text. A text that itself begins
  with a backslash has one more in front.
- Moments carry their offset from UTC; decimals have a point; True and False are written out.
- The tables are whole and unchanged: texts that begin with = or + stand as they were typed. Do not
  open them in a spreadsheet that would take them for formulas.
- Passwords and PINs are there as hashes, so that people can sign in again: keep this file as you
  keep the log itself. Sign-ins (sessions), the secret key and the keys of certificates are not
  in it.
- The folder files holds what lies beside the tables: photos, and what was on its way in, such as a
  logger's file that is half taken up.
"""


class BadExport(Exception):
    """This can't be taken up; says why. Nothing was written."""


def export_all(connection: BaseDatabaseWrapper, file: Path) -> dict[str, int]:
    """Write everything into a new zip that only its owner can read; return the rows of each table.

    It is the state of one moment, while people go on writing. Raises OSError.
    """
    part = file.with_name(f"{file.name}.part")
    if file.exists():
        raise FileExistsError(f"{file} exists already")
    try:
        with (
            os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as out,
            zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed,
            one_moment(connection),
        ):
            rows = {
                model._meta.db_table: _write_table(packed, model) for model in exported_models()
            }
            packed.writestr(README, _README)
            packed.writestr(COLUMNS, describe_columns())
            for name in _files_beside(connection):
                packed.write(settings.DATA_DIR / name, _FILES + name.as_posix())
        part.replace(file)
    finally:
        part.unlink(missing_ok=True)
    return rows


def import_all(connection: BaseDatabaseWrapper, file: Path) -> dict[str, int]:
    """Take up an export into the empty tables of this program; return the rows of each table.

    All of it or, with BadExport, nothing. Raises OSError where the file can't be read.
    """
    if holds_rows(connection):
        raise BadExport("There is a farm here already. An export goes into an empty installation.")
    usual = csv.field_size_limit(MOST_IN_A_FIELD)
    try:
        with zipfile.ZipFile(file) as packed, transaction.atomic():
            _need_same_tables(packed)
            rows = {model._meta.db_table: _read_table(packed, model) for model in exported_models()}
            _go_on_counting(connection)
            connection.check_constraints()
            forget_losses()  # the program it comes from may have reckoned with other figures
            found = refold_ledger().differences
            if found:
                raise BadExport(f"The ledger in it is not right: {found[0]}")
            _unpack_files(packed)
    except (zipfile.BadZipFile, csv.Error, KeyError, DatabaseError) as error:
        raise BadExport(f"{file} is no whole export of this program's: {error}") from error
    finally:
        csv.field_size_limit(usual)
    return rows


def exported_models() -> list[type[Model]]:
    """Return the models of every table that is the farm's own, people among them."""
    models = apps.get_app_config("inventory").get_models(include_auto_created=True)
    return [model for model in models if model._meta.managed and not model._meta.proxy]


def columns_of(model: type[Model]) -> list[Field]:
    """Return the fields that are columns: the key, then by name."""
    fields = [field for field in model._meta.concrete_fields if not field.generated]
    return sorted(fields, key=lambda field: (not field.primary_key, field.column))


def describe_columns() -> str:
    """Return what each column of each table is, as CSV, in English."""
    out = io.StringIO()
    write = csv.writer(out).writerow
    write(["table", "what it holds", "column", "type", "may be \\N", "points to", "what it is"])
    with override("en"):
        for model in exported_models():
            holds = " ".join((model.__doc__ or "").split("\n\n")[0].split())
            for field in columns_of(model):
                points_to = (
                    field.target_field.model._meta.db_table if isinstance(field, ForeignKey) else ""
                )
                kind, empty = _kind(field), "yes" if field.null else "no"
                write([model._meta.db_table, holds, field.column, kind, empty, points_to,
                       meaning(model, field)])  # fmt: skip
    return out.getvalue()


def to_text(field: Field, row: Model) -> str:
    """Return a value as it stands in a CSV file; from_text leads back to the same."""
    value = field.value_from_object(row)
    if value is None:
        return NOTHING
    if field.get_internal_type() == "JSONField":
        return json.dumps(value, sort_keys=True, ensure_ascii=False)
    text = field.value_to_string(row)
    return f"\\{text}" if text.startswith("\\") else text


def from_text(field: Field, text: str) -> Any:
    """Return the value that to_text wrote. Raises ValidationError or ValueError."""
    if text == NOTHING:
        return None
    if field.get_internal_type() == "JSONField":
        return json.loads(text)
    return field.to_python(text.removeprefix("\\"))


@contextmanager
def one_moment(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """Read, within this, the state of one moment, without holding up those who write."""
    if connection.in_atomic_block:
        yield
        return
    connection.ensure_connection()
    sqlite: Any = connection if connection.vendor == "sqlite" else None
    if sqlite:
        mode, sqlite.transaction_mode = sqlite.transaction_mode, "DEFERRED"  # waits for nobody
    try:
        with transaction.atomic():
            if not sqlite:
                with connection.cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
            yield
    finally:
        if sqlite:
            sqlite.transaction_mode = mode


def _kind(field: Field) -> str:
    """Return what stands in a column: text of at most 60, or one of some words."""
    target = field
    while isinstance(target, ForeignKey):  # to a crate, whose key is the key of its code
        target = target.target_field
    if target.choices:
        return " | ".join(str(value) for value, _ in target.flatchoices)
    kind = _PLAINLY.get(target.get_internal_type(), target.get_internal_type())
    if isinstance(target, DecimalField):
        return f"{kind}, {target.decimal_places} places"
    return f"{kind}, at most {target.max_length}" if kind == "text" and target.max_length else kind


def _write_table(packed: zipfile.ZipFile, model: type[Model]) -> int:
    fields, count = columns_of(model), 0
    with packed.open(f"{_TABLES}{model._meta.db_table}.csv", "w", force_zip64=True) as raw:
        out = io.TextIOWrapper(raw, encoding="utf-8", newline="")
        write = csv.writer(out).writerow
        write([field.column for field in fields])
        for row in model._base_manager.order_by("pk").iterator(chunk_size=BATCH):
            write([to_text(field, row) for field in fields])
            count += 1
        out.flush()
        out.detach()
    return count


def _need_same_tables(packed: zipfile.ZipFile) -> None:
    wanted = {model._meta.db_table for model in exported_models()}
    there = {
        name.removeprefix(_TABLES).removesuffix(".csv")
        for name in packed.namelist()
        if name.startswith(_TABLES)
    }
    if wanted != there:
        other = sorted(wanted ^ there)[0]
        raise BadExport(
            f"It is no export of this program's state: the table {other} is in one of them alone. "
            "Import with the program it was exported with, and update after."
        )


def _read_table(packed: zipfile.ZipFile, model: type[Model]) -> int:
    fields, table, count = columns_of(model), model._meta.db_table, 0
    with packed.open(f"{_TABLES}{table}.csv") as raw:
        rows = csv.reader(io.TextIOWrapper(raw, encoding="utf-8", newline=""))
        if next(rows, None) != [field.column for field in fields]:
            raise BadExport(
                f"The columns of {table} are not this program's. "
                "Import with the program it was exported with, and update after."
            )
        batch: list[Model] = []
        for row in rows:
            batch.append(_made(model, fields, row))
            if len(batch) == BATCH:
                count += _insert(model, batch)
        count += _insert(model, batch)
    return count


def _made(model: type[Model], fields: list[Field], row: list[str]) -> Model:
    try:
        values = {
            field.attname: from_text(field, text) for field, text in zip(fields, row, strict=True)
        }
    except (ValidationError, ValueError) as error:
        raise BadExport(f"A row of {model._meta.db_table} can't be read: {row}") from error
    return model(**values)


def _insert(model: type[Model], batch: list[Model]) -> int:
    model._base_manager.bulk_create(batch)
    count = len(batch)
    batch.clear()
    return count


def _go_on_counting(connection: BaseDatabaseWrapper) -> None:
    """Let the numbers of new rows go on after those that came."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), exported_models()):
            cursor.execute(statement)


def _files_beside(connection: BaseDatabaseWrapper) -> list[Path]:
    """Return what lies in folders of the data folder; what lies in it itself are secrets."""
    return [name for name in carried(connection) if len(name.parts) > 1]


def _unpack_files(packed: zipfile.ZipFile) -> None:
    for name in packed.namelist():
        file = (settings.DATA_DIR / name.removeprefix(_FILES)).resolve()
        if name.startswith(_FILES) and file.is_relative_to(settings.DATA_DIR):
            file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            file.write_bytes(packed.read(name))
            file.chmod(0o600)
