"""The Spanish catalogue: every sentence of the code, the pages and the crop names.

`python -m tests.catalogue` brings inventory/locale up to date: new sentences are added empty,
gone ones dropped, and the compiled file is written. It needs no gettext on the machine.
"""

import io
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

ROOT = Path(__file__).resolve().parent.parent
PO_FILE = ROOT / "inventory/locale/es/LC_MESSAGES/django.po"
MO_FILE = PO_FILE.with_suffix(".mo")
_KEYWORDS = {"_": None, "gettext": None, "gettext_lazy": None, "ngettext": (1, 2)}


def template_catalogue() -> Catalog:
    """Return every message of the project, untranslated."""
    catalogue = Catalog(charset="utf-8")
    for file in sorted((ROOT / "inventory").rglob("*.py")):
        _add(catalogue, file.read_bytes())
    for file in sorted((ROOT / "templates").rglob("*.html")):
        _add(catalogue, _as_python(file).encode())
    for name in _crop_names():
        catalogue.add(name)
    return catalogue


def _as_python(file: Path) -> str:
    """Return a page's sentences as calls of gettext; its indents would be an error in Python."""
    from django.utils.translation.template import templatize

    text = templatize(file.read_text(encoding="utf-8"), origin=str(file))
    return "\n".join(line.strip() for line in text.splitlines())


def _crop_names() -> list[str]:
    from inventory.keeping import load_reference

    rows = load_reference().values()
    names = [name for row in rows for name in (row.name, row.short_name, row.variant)]
    return [name for name in names if name]


def _add(catalogue: Catalog, source: bytes) -> None:
    for _, message, _, _ in extract("python", io.BytesIO(source), keywords=_KEYWORDS):
        catalogue.add(message)


def spanish() -> Catalog:
    with PO_FILE.open("rb") as file:
        return read_po(file, locale="es", domain="django", charset="utf-8")


def compiled(catalogue: Catalog) -> bytes:
    buffer = io.BytesIO()
    write_mo(buffer, catalogue)
    return buffer.getvalue()


def update() -> None:
    catalogue = spanish() if PO_FILE.exists() else Catalog(locale="es", charset="utf-8")
    catalogue.update(template_catalogue(), no_fuzzy_matching=True)
    catalogue.obsolete.clear()
    PO_FILE.parent.mkdir(parents=True, exist_ok=True)
    with PO_FILE.open("wb") as file:
        write_po(file, catalogue, omit_header=False, sort_output=True, no_location=True, width=0)
    MO_FILE.write_bytes(compiled(catalogue))


if __name__ == "__main__":
    import django
    from django.conf import settings

    settings.configure(USE_I18N=True)
    django.setup()
    update()
