"""Faults of the ground are said in both languages, as what they are; the rest as ours."""

import errno

import pytest
from django.db import OperationalError
from django.test import Client

from inventory.upkeep import ground
from inventory.views import home


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (OSError(errno.ENOSPC, "x"), 507, "The disk of the farm"),
        (OperationalError("database or disk is full"), 507, "The disk of the farm"),
        (OperationalError("database is locked"), 503, "Another program holds the database"),
        (OperationalError("attempt to write a readonly database"), 503, "can&#x27;t be written"),
        (KeyError("x"), 500, "Something went wrong on our side"),
    ],
)
def test_each_fault_says_what_to_do(farm, monkeypatch, error, status, said):
    def fails(_request):
        raise error

    client = Client(raise_request_exception=False)
    monkeypatch.setattr(home, "disk_is_full", fails)
    answer = client.get("/healthz")
    page = answer.content.decode()
    assert answer.status_code == status
    assert said in page
    assert page.count("<p lang=") == 2


def test_a_sign_of_life_tells_of_a_full_disk(farm, monkeypatch):
    answer = Client().get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"ok")
    monkeypatch.setattr(ground, "LEAST_FREE", 10**18)
    answer = Client().get("/healthz")
    assert (answer.status_code, answer.content) == (507, b"the disk is full")
