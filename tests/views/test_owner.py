"""The owner's page of a crop: what the farm found of it, and adopting that."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

from django.utils import timezone

from inventory.actions.movements import bring_back, take_out
from inventory.actions.quality import judge_crate
from inventory.models import Change
from tests import builders


def test_the_record_of_the_farm_is_adopted_by_a_tap_and_tells_what_stood_before(signed_in):
    now = timezone.now()
    for days in (9, 10, 12):
        lot = builders.make_lot(12, at=now - timedelta(days=days))
        judge_crate(builders.act(now - timedelta(days=2)), lot=lot.pk, answer="fine")
        judge_crate(builders.act(now), lot=lot.pk, answer="early")
    crop = builders.crop()
    crop.keeping_days = Decimal(13)
    crop.save()
    page = signed_in.get(f"/settings/crops/{crop.pk}").content.decode()
    assert "from 3 harvests, 3 crates; 3 harvests gone" in page
    offered = Decimal(re.search(r"Count with ([\d.]+) days from now on", page)[1])
    signed_in.post(f"/settings/crops/{crop.pk}/adopt", {"entry": uuid4(), "days": offered})
    crop.refresh_from_db()
    assert crop.keeping_days == offered < 13
    assert (Change.objects.get().before, Change.objects.get().after) == ("13", str(offered))


def test_a_record_without_a_loss_offers_nothing(signed_in):
    now = timezone.now()
    crop = builders.crop()
    where = f"/settings/crops/{crop.pk}"
    assert "Nothing yet." in signed_in.get(where).content.decode()
    lot = builders.make_lot(12, at=now - timedelta(days=5))
    judge_crate(builders.act(now), lot=lot.pk, answer="fine")
    page = signed_in.get(where).content.decode()
    assert "At least 6 days, from 1 harvest, 1 crate; 0 harvests gone" in page
    assert "Count with" not in page
    assert signed_in.post(f"{where}/adopt", {"entry": uuid4()}).status_code == 422


def test_what_kitchens_sent_back_is_told_on_the_page_of_the_crop(signed_in):
    now = timezone.now()
    lot = builders.make_lot(12, at=now - timedelta(days=5))
    out, back = (builders.act(now - timedelta(days=days)) for days in (3, 2))
    take_out(out, lot=lot.pk, portion="all", purpose="order", to="The Heron")
    bring_back(back, lot=lot.pk, quantity=Decimal(4), position=builders.place("A1"))
    page = signed_in.get(f"/settings/crops/{builders.crop().pk}").content.decode()
    assert "Sent back by kitchens; it is not in the line:" in page
    assert "The Heron: 4 bunches" in page


def test_the_owner_reads_when_the_last_good_copy_was_made(signed_in, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    (tmp_path / "copies").mkdir()

    def said(nights_ago=None):
        if nights_ago is not None:
            made = timezone.now() - timedelta(days=nights_ago)
            (tmp_path / "copies" / f"coldroom-{made:%Y%m%dT%H%M%SZ}-nightly.zip").touch()
        page = signed_in.get("/settings").content.decode()
        kind, words = re.search(r'<p class="(\w+)">([^<]*cop[^<]*)</p>', page).groups()
        return kind, " ".join(words.split())

    each_night = "One is made each night while the program runs."
    assert said() == ("caution", f"There is no copy of this log yet. {each_night}")
    kind, words = said(nights_ago=3)
    assert kind == "caution"
    assert re.fullmatch(rf"The last good copy is of [A-Z].*\. {each_night}", words)
    kind, words = said(nights_ago=1)
    assert kind == "soft"
    assert re.fullmatch(r"The last good copy is of [A-Z][^.]*\.", words)
