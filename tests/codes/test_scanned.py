"""Whose label a scanned text is."""

import re

import pytest
from hypothesis import given

from inventory.codes.scanned import host_of, read_address, read_bare
from tests.codes.test_check import CODES

CODE = "7K3M9Q4"
OURS = {"farm.local", "192.168.1.20"}
LABEL = f"HTTP://FARM.LOCAL:8108/L/{CODE}"


@pytest.mark.parametrize(
    ("address", "host"),
    [
        ("HTTP://FARM.LOCAL:8108", "farm.local"), ("https://farm.local", "farm.local"),
        ("//farm.local:8443", "farm.local"), ("//[fe80::1]:8000", "fe80::1"),
        ("http://farm.local:99999", ""), ("http://farm.local:x", ""), ("http://[farm", ""),
        ("", ""),
    ],
)  # fmt: skip
def test_the_name_of_an_address(address, host):
    assert host_of(address) == host


@pytest.mark.parametrize(
    "text",
    [
        LABEL, LABEL.lower(), f" {LABEL}\r\n", f"]Q1{LABEL}", f"]q1{LABEL.lower()}", f"{LABEL}/",
        f"{LABEL}?x=1", f"{LABEL}/?x=1", f"HTTP://FARM.LOCAL:8443/L/{CODE}",
        f"HTTPS://FARM.LOCAL/L/{CODE}", f"HTTP://192.168.1.20:8000/L/{CODE}",
        f"HTTPÑ--FARM.LOCALÑ8108-L-{CODE}", f"HTTPÖ--FARM.LOCALÖ8443-L-{CODE}",
    ],
)  # fmt: skip
def test_a_label_of_ours(text):
    assert read_address(text, OURS) == ("L", CODE)
    place = re.sub("([/-])L([/-])", r"\1P\2", text, flags=re.IGNORECASE)
    assert read_address(place, OURS) == ("P", CODE)


@pytest.mark.parametrize(
    "text",
    [
        CODE, "", f"/L/{CODE}", f"FARM.LOCAL:8108/L/{CODE}", f"FTP://FARM.LOCAL/L/{CODE}",
        f"HTTP://OTHER.LOCAL/L/{CODE}", f"HTTP://FARM.LOCAL.EVIL/L/{CODE}",
        f"HTTP://FARM.LOCAL@EVIL/L/{CODE}", f"HTTP://EVIL@FARM.LOCAL/L/{CODE}",
        f"HTTP://FARM.LOCAL:99999/L/{CODE}", f"HTTP:///L/{CODE}", f"HTTP://FARM.LOCAL/X/{CODE}",
        f"HTTP://FARM.LOCAL/L/{CODE[:-1]}5", f"HTTP://EVIL?HTTP://FARM.LOCAL/L/{CODE}",
        f"HTTPÑ--OTHER.LOCALÑ8108-L-{CODE}", f"HTTPÑ--FARM.LOCALÑ8108-L-{CODE[:-1]}5",
        f"HTTPÅ--FARM.LOCALÅ8108-L-{CODE}", LABEL + LABEL, f"{LABEL}?{LABEL}", LABEL + CODE,
        f"{LABEL}/L/{CODE}", "HTTP://FARM.LOCAL/L/７Ｋ３Ｍ９Ｑ４", f"{LABEL}#{CODE}",
    ],
)  # fmt: skip
def test_what_is_none_of_ours(text):
    assert read_address(text, OURS) is None


@given(CODES, CODES)
def test_two_scans_run_together_are_refused(first, second):
    for start, more in (("", ""), ("HTTP://FARM.LOCAL/L/", "HTTP://FARM.LOCAL/L/")):
        text = start + first + more + second
        assert (read_bare(text), read_address(text, OURS)) == ("", None)


@pytest.mark.parametrize("text", [CODE, f" {CODE.lower()}\t", f"]Q1{CODE}", "7K3-M9Q4", "7K3 M9Q4"])
def test_a_bare_code(text):
    assert read_bare(text) == CODE


@pytest.mark.parametrize("text", ["", "]Q1", CODE[:-1], CODE[:-1] + "5", f"+Q1{CODE}", LABEL])
def test_what_is_no_bare_code(text):
    assert read_bare(text) == ""
