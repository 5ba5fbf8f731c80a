"""The Spanish catalogue is complete, compiled, and keeps every placeholder."""

import re

from django.utils import translation

from inventory.keeping import load_reference
from tests import catalogue

PLACEHOLDER = re.compile(r"%\(\w+\)[sd]|%[sd]")


def forms(text) -> tuple[str, ...]:
    return (text,) if isinstance(text, str) else tuple(text)


def keys(messages) -> set:
    return {message.id for message in messages if message.id}


def test_every_sentence_is_translated_and_none_is_left_over():
    assert keys(catalogue.spanish()) == keys(catalogue.template_catalogue())
    for message in catalogue.spanish():
        if message.id:
            assert not message.fuzzy, message.id
            assert all(text.strip() for text in forms(message.string)), message.id


def test_every_translation_keeps_its_placeholders():
    for message in catalogue.spanish():
        if message.id:
            wanted = {*PLACEHOLDER.findall("".join(forms(message.id)))}
            for text in forms(message.string):
                assert set(PLACEHOLDER.findall(text)) == wanted, message.id


def test_the_compiled_file_is_that_of_the_catalogue():
    assert catalogue.MO_FILE.read_bytes() == catalogue.compiled(catalogue.spanish())


def test_crop_names_stay_apart_in_spanish():
    with translation.override("es"):
        names = [translation.gettext(row.name) for row in load_reference().values()]
    assert len(set(names)) == len(names) > 100
    assert "Betabel" in " ".join(names)
