"""Every rule of the tables by name, and how each engine says which one refused a row."""

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection
from django.db.models import CheckConstraint, Field

# Unique for Django's own sign-in checks; people_are_told_apart_by_name refuses all it would.
NEVER_FIRST = "person_name_is_unique"
# PostgreSQL keeps the name a plain unique rule had before its table was renamed.
CALLED_BEFORE = {"inventory_take": "inventory_pulltake"}


def all_rules() -> dict[str, tuple]:
    """Return (model, constraint or unique field) by the name its test has after `test_`."""
    found = {}
    for model in apps.get_app_config("inventory").get_models():
        found |= {rule.name: (model, rule) for rule in model._meta.constraints}
        for field in model._meta.local_fields:
            if field.unique and not field.primary_key:
                found[f"{model._meta.model_name}_{field.name}_is_unique"] = (model, field)
    del found[NEVER_FIRST]
    return found


def engine_name(model, rule) -> str:
    """Return what the engine calls a rule: SQLite tells a plain unique one by its columns."""
    table, on_postgresql = model._meta.db_table, connection.vendor == "postgresql"
    if isinstance(rule, Field):
        called = CALLED_BEFORE.get(table, table)
        return f"{called}_{rule.column}_key" if on_postgresql else f"{table}.{rule.column}"
    if on_postgresql or isinstance(rule, CheckConstraint):
        return rule.name
    if rule.expressions:
        return f"index '{rule.name}'"
    return ", ".join(f"{table}.{model._meta.get_field(name).column}" for name in rule.fields)


def engine_said(error: IntegrityError) -> str:
    """Return which rule an engine says was broken."""
    if connection.vendor == "postgresql":
        return error.__cause__.diag.constraint_name
    return str(error).partition(" constraint failed: ")[2]


def unclean(row) -> set[str]:
    """Return the codes of what full_clean finds wrong, or its sentence where it has no code."""
    with pytest.raises(ValidationError) as caught:
        row.full_clean()
    errors = [error for found in caught.value.error_dict.values() for error in found]
    return {error.code or error.message for error in errors}
