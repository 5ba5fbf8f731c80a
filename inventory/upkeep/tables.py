"""Whether the farm's tables and the program belong together, and a copy before they change."""

from datetime import datetime
from pathlib import Path

from django.apps import apps
from django.apps.registry import Apps
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from inventory.models import Farm
from inventory.upkeep.copies import NoCopy, copy_database

_OURS = "inventory"


class CannotUpdate(Exception):
    """The tables must not be changed, or can't be used, by this program; says what to do."""


def prepare_update(
    connection: BaseDatabaseWrapper, copies: Path, at: datetime, without_copy: bool = False
) -> Path | None:
    """Look at the tables before they are migrated; return the copy made of a farm, if any.

    Raises CannotUpdate, with nothing changed, where the tables are newer than the program,
    where something is missing in them, or where the copy that is wanted can't be made.
    """
    executor = MigrationExecutor(connection)
    _need_known(executor.loader)
    waiting = [
        migration for migration, _ in executor.migration_plan(executor.loader.graph.leaf_nodes())
    ]
    missing = first_missing(connection, _models_of(executor.loader) if waiting else apps)
    if missing:
        raise CannotUpdate(
            f"The tables are of a state this program does not know: {missing} is missing. Run "
            "the program they were made with, or put back a copy that has it. Nothing was changed."
        )
    if not waiting or without_copy or not _holds_a_farm(connection):
        return None
    ours = [migration for migration in waiting if migration.app_label == _OURS]
    newest = (ours or waiting)[-1].name
    try:
        return copy_database(connection, copies, at, f"before-{newest}")
    except NoCopy as reason:
        raise CannotUpdate(
            f"The farm could not be copied before the update: {reason}. Put that right, or copy "
            "it yourself and start with --without-copy. Nothing was changed."
        ) from reason


def _need_known(loader: MigrationLoader) -> None:
    unknown = sorted(
        name
        for app, name in loader.applied_migrations
        if app == _OURS and (app, name) not in loader.disk_migrations
    )
    if unknown:
        raise CannotUpdate(
            f"The tables are newer than this program, which does not know {unknown[-1]}. Update "
            "the program, or put back the copy made before that update. Nothing was changed."
        )


def _models_of(loader: MigrationLoader) -> Apps:
    """Return the models as they were at the state the database has come to."""
    applied = [key for key in loader.applied_migrations if key in loader.graph.nodes]
    return loader.project_state(applied).apps


def first_missing(connection: BaseDatabaseWrapper, models: Apps) -> str | None:
    """Return the first table or column of the farm's models that the database has not."""
    if not models.is_installed(_OURS):
        return None
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
        for model in models.get_app_config(_OURS).get_models(include_auto_created=True):
            table = model._meta.db_table
            if table not in tables:
                return f"the table {table}"
            described = connection.introspection.get_table_description(cursor, table)
            columns = {column.name for column in described}
            for field in model._meta.local_concrete_fields:
                if field.column not in columns:
                    return f"the column {field.column} of {table}"
    return None


def _holds_a_farm(connection: BaseDatabaseWrapper) -> bool:
    tables = connection.introspection.table_names()
    return Farm._meta.db_table in tables and Farm.objects.using(connection.alias).exists()


def holds_rows(connection: BaseDatabaseWrapper) -> bool:
    """Return whether any table of the farm's has a row; there may be no tables yet."""
    there = set(connection.introspection.table_names())
    tables = [
        model._meta.db_table
        for model in apps.get_app_config(_OURS).get_models(include_auto_created=True)
        if model._meta.db_table in there
    ]
    with connection.cursor() as cursor:
        for table in tables:
            cursor.execute(f"SELECT 1 FROM {connection.ops.quote_name(table)} LIMIT 1")
            if cursor.fetchone():
                return True
    return False
