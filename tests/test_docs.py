"""README against the code: every setting, every command and option, and no other."""

import re
from pathlib import Path

from django.core.management import get_commands, load_command_class
from django.core.management.base import BaseCommand

ROOT = Path(__file__).resolve().parent.parent
CODE = {
    str(file.relative_to(ROOT)): file.read_text(encoding="utf-8")
    for folder in ("coldroom", "inventory")
    for file in (ROOT / folder).rglob("*.py")
}
# Where Django's settings are, and the port start was asked for: told to others, not read.
TOLD_TO_OTHERS = {
    ("coldroom/wsgi.py", 'os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coldroom.settings")'),
    (
        "inventory/management/commands/start.py",
        'os.environ["COLDROOM_PORT"] = str(options["port"])',
    ),
}


def table(title: str) -> list[str]:
    """Return the rows of README's table under a heading."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = text.split(f"\n## {title}\n")[1].split("\n## ")[0]
    return [line for line in section.splitlines() if line.startswith("|")][2:]


def test_settings_are_those_the_code_reads():
    read = {
        name
        for text in CODE.values()
        for name in re.findall(r'"(COLDROOM_\w+|DATABASE_URL)"', text)
    }
    assert {row.split("|")[1].strip(" `") for row in table("Settings")} == read


def test_only_env_reads_the_environment():
    lines = {(name, line.strip()) for name, text in CODE.items() for line in text.splitlines()}
    reading = {(name, line) for name, line in lines if re.search(r"\benviron\b|getenv", line)}
    assert {pair for pair in reading if pair[0] != "coldroom/env.py"} == TOLD_TO_OTHERS


def options_of(command: BaseCommand) -> set[str]:
    actions = command.create_parser("manage.py", "")._actions
    return {option for action in actions for option in action.option_strings}


def commands_told() -> dict[str, set[str]]:
    """Return the options of each command in README; a row without one goes on with the last."""
    text = "".join(table("Commands"))
    parts = [part.partition("`") for part in text.split("`manage.py ")[1:]]
    return {command.split()[0]: set(re.findall(r"--[a-z-]+", rest)) for command, _, rest in parts}


def test_commands_and_their_options_are_those_of_manage_py():
    ours = [name for name, app in get_commands().items() if app == "inventory"]
    made = {name: options_of(load_command_class("inventory", name)) for name in ours}
    djangos = options_of(BaseCommand())
    assert commands_told() == {name: options - djangos for name, options in made.items()}
