"""Writes a database as SQL text that SQLite and PostgreSQL both read: one row a line.

    COLDROOM_DATA=… python -m tests.stored.dump FILE "what the farm in it holds"

FILE is called like the newest migration the database has. Values stand as Django keeps them in
SQLite, which PostgreSQL understands too: ids of forms without dashes, moments in UTC. Where a line
of a text ends stands NEW_LINE.
"""

import json
import os
import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from decimal import Decimal
from graphlib import TopologicalSorter
from pathlib import Path
from uuid import UUID

import django
from django.apps import apps
from django.apps.registry import Apps

NEW_LINE = "\u2424"


def write(file: Path, holds: str) -> None:
    """Write every row of the farm's tables, those others point to first."""
    parts = [f"-- {holds}", *statements(apps)]
    file.write_text("\n\n".join(parts) + "\n", encoding="utf-8")


def statements(of: Apps) -> Iterator[str]:
    """Yield one INSERT for each table that holds rows. of: the models as they are or were."""
    for model in tables(of):
        fields = columns_of(model)
        rows = [
            "(" + ", ".join(literal(field, row) for field in fields) + ")"
            for row in model._base_manager.order_by("pk")
        ]
        if rows:
            columns = ", ".join(f'"{field.column}"' for field in fields)
            start = f'INSERT INTO "{model._meta.db_table}" ({columns}) VALUES\n'
            yield start + ",\n".join(rows) + ";"


def tables(of: Apps) -> list:
    """Return the models of the farm, each after those it points to."""
    models = list(of.get_app_config("inventory").get_models(include_auto_created=True))
    points_to = {
        model: [
            field.related_model
            for field in model._meta.concrete_fields
            if field.is_relation and field.related_model is not model
        ]
        for model in models
    }
    return list(TopologicalSorter(points_to).static_order())


def columns_of(model) -> list:
    """Return the fields that are columns: the key, then by name, whoever wrote the model."""
    fields = model._meta.concrete_fields
    return sorted(fields, key=lambda field: (not field.primary_key, field.column))


def literal(field, row) -> str:
    """Return a value as it stands in SQL."""
    value = getattr(row, field.attname)
    if field.get_internal_type() == "JSONField":
        value = json.dumps(value, sort_keys=True)  # PostgreSQL keeps no order of its own
    if value is None:
        return "NULL"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float | Decimal):
        return str(value)
    return "'" + _plain(value).replace("'", "''") + "'"


def _plain(value) -> str:
    if isinstance(value, UUID):
        return value.hex
    if isinstance(value, datetime):
        return str(value.astimezone(UTC).replace(tzinfo=None))
    if isinstance(value, date | time):
        return value.isoformat()
    if not isinstance(value, str) or NEW_LINE in value:
        raise ValueError(f"{value!r} can't stand on one line of SQL")
    return value.replace("\n", NEW_LINE)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coldroom.settings")
    django.setup()
    write(Path(sys.argv[1]), sys.argv[2])
