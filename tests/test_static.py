"""Static files as a farm serves them: collected, each under the hash of its contents."""

import hashlib
import json
import posixpath
import re
from pathlib import Path

import pytest
from django.core.management import call_command

from coldroom import settings as ours

OWN = Path("inventory/static/inventory")
RELATIVE = re.compile(r"""["'`](\.{1,2}/[^"'`]*)["'`]""")
HASHED = re.compile(r"\.([0-9a-f]{12})\.js$")


@pytest.fixture
def collect(settings, tmp_path):
    """Collect the static files once more, after some of ours were changed."""
    settings.STORAGES = ours.STORAGES

    def collected(name: str, **changes: str) -> tuple[Path, dict[str, str]]:
        source, root = tmp_path / f"{name}-source", tmp_path / name
        for script in ours.BASE_DIR.joinpath(OWN).rglob("*.js"):
            copy = source / "inventory" / script.relative_to(ours.BASE_DIR / OWN)
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_text(script.read_text() + changes.get(script.stem, ""))
        settings.STATICFILES_DIRS = [source]
        settings.STATIC_ROOT = root
        call_command("collectstatic", verbosity=0, interactive=False)
        return root, json.loads((root / "staticfiles.json").read_text())["paths"]

    return collected


def imports(root: Path, name: str) -> list[str]:
    """What a script names beside itself, as paths in the folder of collected files."""
    folder = posixpath.dirname(name)
    return [
        posixpath.normpath(posixpath.join(folder, named))
        for named in RELATIVE.findall((root / name).read_text())
    ]


def test_the_scan_page_imports_modules_by_their_hashed_names(collect):
    root, names = collect("once")
    modules = {"camera", "code", "entry", "health", "sound"}
    wanted = {names[f"inventory/scan/{module}.js"] for module in modules}
    wanted.add(names["inventory/queue.js"])
    found = imports(root, names["inventory/scan/page.js"])
    assert sorted(found) == sorted(wanted)
    assert all(HASHED.search(name) and (root / name).is_file() for name in found)


def test_no_script_of_ours_names_a_file_without_its_hash(collect):
    root, names = collect("once")
    scripts = [name for plain, name in names.items() if re.match(r"inventory/.*\.js$", plain)]
    assert len(scripts) == len(list(ours.BASE_DIR.joinpath(OWN).rglob("*.js")))
    for script in scripts:
        contents = (root / script).read_bytes()
        assert HASHED.search(script).group(1) == hashlib.md5(contents).hexdigest()[:12]
        assert [name for name in imports(root, script) if name not in names.values()] == []


def test_a_changed_module_changes_the_name_of_the_page_that_imports_it(collect):
    before, after = collect("before")[1], collect("after", code="// changed\n")[1]
    changed = {name for name in before if before[name] != after[name]}
    assert changed == {"inventory/scan/code.js", "inventory/scan/page.js"}
