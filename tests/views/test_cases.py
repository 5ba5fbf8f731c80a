"""A case's barcode fills the intake form, and is known the next time."""

from datetime import timedelta
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.models import CaseKind, Intake, Source
from tests import builders

GTIN = "09520123456788"


def scanned(client, text):
    return client.post("/in/delivery/case", {"text": text})


def test_a_number_seen_before_brings_its_crop_and_supplier(signed_in):
    packed = timezone.now().date() - timedelta(days=9)
    best = timezone.now().date() + timedelta(days=60)
    text = f"(01){GTIN}(13){packed:%y%m%d}(15){best:%y%m%d}(3102)001810(10)HO-77"
    first = scanned(signed_in, text)["Location"]
    assert first.startswith("/in/delivery?")
    page = signed_in.get(first).content.decode()
    assert "Which crop is it?" in page
    apple = builders.crop("apple").pk
    form = signed_in.get(f"/in/delivery/{apple}?{urlsplit(first).query}")
    assert 'value="HO-77"' in form.content.decode()
    assert f'value="{packed.isoformat()}"' in form.content.decode()
    assert f'value="{best.isoformat()}"' in form.content.decode()
    assert 'value="18.1' in form.content.decode()
    data = {
        "entry": uuid4(), "crates": "3", "quantity": "18.1", "unit": "kg", "gtin": GTIN,
        "source": Source.objects.get(name="Orchard").pk, "supplier_reference": "HO-77",
        "best_before": best.isoformat(), "variety": "Russet",
    }  # fmt: skip
    signed_in.post(f"/in/delivery/{apple}", data)
    intake = Intake.objects.get()
    assert (intake.supplier_reference, intake.best_before) == ("HO-77", best)
    page = signed_in.get(f"/L/{intake.lots.first().pk}").content.decode()
    assert "Best before, by the packer" in page
    assert "Apple, not chilling sensitive, Russet" in page
    assert CaseKind.objects.get().crop_id == apple
    again = scanned(signed_in, f"(01){GTIN}(10)HO-78")["Location"]
    assert urlsplit(again).path == f"/in/delivery/{apple}"
    assert parse_qs(urlsplit(again).query)["supplier_reference"] == ["HO-78"]


@pytest.mark.parametrize("text", ["", "4011", "x" * 5000, "<b>", f"(01){GTIN[:-1]}9"])
def test_what_is_no_case_gets_a_sentence(signed_in, text):
    response = scanned(signed_in, text)
    assert response.status_code == 422
    assert "No case barcode" in response.content.decode()
    assert signed_in.get("/in/delivery/case").status_code == 302
