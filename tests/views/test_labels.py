"""Printing labels and permanent tags from the pages."""

import html
import io
import re
import socket
import zipfile
from datetime import timedelta
from uuid import uuid4

import pypdfium2
import pytest
from django.utils import timezone
from PIL import Image

from coldroom.tls import authority_file, ensure_certificate
from inventory.labels.read import read_symbols
from inventory.models import Change, Farm, LabelPrint, Lot, Tag
from inventory.views import labels as view
from inventory.words.labels import crate_label
from tests import builders
from tests.builders import make_lot, make_lots, place


def print_them(client, codes, **changes):
    return client.post("/labels/print", {"codes": codes, "start": "1", "form": "pdf"} | changes)


def label_settings(client) -> str:
    return " ".join(html.unescape(client.get("/settings/labels").content.decode()).split())


def symbols(pdf: bytes) -> set[str]:
    pages = pypdfium2.PdfDocument(pdf)
    pictures = [page.render(scale=300 / 72).to_pil().convert("L") for page in pages]
    return {text for picture in pictures for text in read_symbols(picture)}


def test_one_tap_after_an_intake_prints_its_labels(signed_in, farm):
    farm.label_address = "http://farm.local:8000"
    farm.save()
    lots = make_lots(*[12] * 12, at=timezone.now())
    page = signed_in.get(f"/done/{lots[0].intake.action_id}").content.decode()
    assert "Print 12 labels" in page
    response = print_them(signed_in, [lot.pk for lot in lots])
    assert response["Content-Type"] == "application/pdf"
    wanted = {f"HTTP://FARM.LOCAL:8000/L/{lot.pk}" for lot in lots}
    assert symbols(response.content) == wanted


def test_without_an_address_the_bare_code_is_printed_and_the_page_says_so(signed_in):
    lot = make_lot(at=timezone.now())
    assert "camera app will not open" in signed_in.get(f"/labels?codes={lot.pk}").content.decode()
    assert symbols(print_them(signed_in, [lot.pk]).content) == {lot.pk}


@pytest.mark.parametrize("dpi", ["203", "300"])
def test_a_phones_label_printer_gets_one_bit_pictures(signed_in, farm, dpi):
    farm.label_stock = "roll-57x32"
    farm.save()
    lots = make_lots(12, 12, at=timezone.now())
    one = Image.open(io.BytesIO(print_them(signed_in, lots[0].pk, form=dpi).content))
    assert (one.mode, round(one.info["dpi"][0])) == ("1", int(dpi))
    packed = print_them(signed_in, [lot.pk for lot in lots], form=dpi).content
    names = zipfile.ZipFile(io.BytesIO(packed)).namelist()
    assert names == [f"{lot.pk}.png" for lot in lots]


def test_bad_printing_gets_a_sentence(signed_in):
    lot = make_lot(at=timezone.now())
    for changes in ({"start": "15"}, {"start": "x"}, {"form": "fax"}):
        assert print_them(signed_in, lot.pk, **changes).status_code == 422
    assert print_them(signed_in, ["nonsense"]).status_code == 404


def test_places_have_labels_too(signed_in):
    response = print_them(signed_in, [place("A1").pk, place("B2").pk])
    assert symbols(response.content) == {place("A1").pk, place("B2").pk}


def test_the_address_is_the_owners_and_earlier_ones_stay_ours(signed_in, farm):
    from inventory.queries.labels import NotOurs, read_label

    lot = make_lot(at=timezone.now())
    form = {"label_stock": "a4-2x7", "nudge_x_mm": "0", "nudge_y_mm": "0"}
    for address in ("http://old.local:8000", "http://new.local"):
        sent = {**form, "entry": uuid4(), "label_address": address}
        assert signed_in.post("/settings/labels", sent).status_code == 302
    ours = (
        "HTTP://OLD.LOCAL:8000", "http://new.local", "HTTP://TESTSERVER", "https://old.local:8443"
    )  # fmt: skip
    for address in ours:
        assert read_label(f"{address}/L/{lot.pk}", "testserver") == ("L", lot.pk)
    assert read_label(f"HTTPÑ--OLD.LOCALÑ8000-L-{lot.pk}", "testserver") == ("L", lot.pk)
    with pytest.raises(NotOurs):
        read_label(f"http://other.local/L/{lot.pk}", "testserver")
    for bad in ("farm.local", "ftp://farm.local", "http://farm.local/x", "x" * 500):
        response = signed_in.post("/settings/labels", {**form, "label_address": bad})
        assert response.status_code == 422, bad
    for size in ({}, {"label_w_mm": "20", "label_h_mm": "20"}):
        custom = signed_in.post("/settings/labels", {**form, "label_stock": "custom", **size})
        assert custom.status_code == 422
        assert "label_w_mm" in custom.context["form"].errors


def test_labels_too_small_for_their_words_are_refused_and_not_noted(signed_in):
    Farm.objects.update(label_stock="custom", label_w_mm=20, label_h_mm=21)
    lot = make_lot(at=timezone.now(), variety="of the second sowing, washed and sorted")
    response = print_them(signed_in, lot.pk)
    assert response.status_code == 422
    assert "too small" in response.content.decode()
    assert not LabelPrint.objects.exists()


def test_one_name_too_long_never_holds_up_the_others(signed_in, farm):
    """Named first, by hand or not; what has room is printed and noted, under its address."""
    farm.label_address = "http://farm.local:8000"
    farm.label_stock, farm.label_w_mm, farm.label_h_mm = "custom", 38, 21
    farm.save()
    lots = make_lots(12, 12, at=timezone.now())
    long = make_lot(at=timezone.now(), variety="W" * 40)
    codes = [lots[0].pk, long.pk, lots[1].pk]
    page = signed_in.get("/labels", {"codes": codes})
    assert [label.code for label in page.context["no_room"]] == [long.pk]
    assert f'name="no_room" value="{long.pk}"' in page.content.decode()
    unasked = print_them(signed_in, codes)
    assert unasked.status_code == 422
    assert [label.code for label in unasked.context["no_room"]] == [long.pk]
    assert not LabelPrint.objects.exists()
    printed = print_them(signed_in, codes, no_room=long.pk)
    wanted = [lot.pk for lot in lots]
    assert symbols(printed.content) == {f"HTTP://FARM.LOCAL:8000/L/{code}" for code in wanted}
    said = LabelPrint.objects.values_list("lot_id", "address")
    assert set(said) == {(code, "http://farm.local:8000") for code in wanted}


def test_labels_of_the_old_address_are_printed_again_with_one_button(signed_in, farm):
    Farm.objects.update(label_address="http://old.local:8000")
    first, other = make_lots(12, 12, at=timezone.now())
    print_them(signed_in, [first.pk, other.pk])
    assert "old address" not in signed_in.get("/labels/reprint").content.decode()
    Farm.objects.update(label_address="https://farm.local:8443")
    page = signed_in.get("/labels/reprint")
    text = page.content.decode()
    assert "Printed with the old address: print again when convenient" in text
    assert "Print 2 labels again" in text
    assert {crate.code for crate in page.context["old"]} == {first.pk, other.pk}
    assert page.context["others"] == []
    assert f'href="/labels?codes={page.context["old_codes"]}"' in text
    print_them(signed_in, page.context["old_codes"].split(","))
    assert signed_in.get("/labels/reprint").context["old"] == []


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("https://farm.local:8443", ""),
        ("https://192.168.1.7:8443", ""),
        ("http://new.local:8000", ""),
        ("https://new.local:8443", "may not vouch for new.local"),
    ],
)
def test_a_name_that_the_certificate_may_not_hold_for_is_said_with_whom_to_ask(
    signed_in, settings, tmp_path, address, said
):
    settings.DATA_DIR = tmp_path
    Farm.objects.update(label_address=address)
    assert signed_in.get("/settings/labels").context["not_held"] == ""  # there is none yet
    ensure_certificate(tmp_path, ["localhost", "farm.local"], timezone.now())
    page = label_settings(signed_in)
    assert ("Ask whoever looks after the phones first" in page) == bool(said)
    assert said in page


def test_before_an_address_is_chosen_labels_say_what_each_kind_asks_of_a_phone(signed_in):
    page = label_settings(signed_in)
    before = page.partition("Address on labels")[0]
    assert "each phone trusts the farm's certificate once" in before
    assert "its camera app opens a label with the browser's warning" in before
    assert "http: opens at once on every phone" in before


def test_a_new_address_is_proposed_as_https_and_one_that_is_set_stays(
    signed_in, settings, tmp_path
):
    def shown(host: str) -> str:
        page = signed_in.get("/settings/labels", headers={"host": host})
        return page.context["form"]["label_address"].value()

    settings.DATA_DIR, settings.ALLOWED_HOSTS, settings.HTTPS_PORT = tmp_path, ["*"], 8443
    assert shown("farm.local:8000") == ""  # no HTTPS is served: nothing made a certificate
    authority_file(tmp_path).parent.mkdir(exist_ok=True)
    authority_file(tmp_path).write_text("made by start")
    assert shown("Farm.local:8000") == "https://farm.local:8443"
    assert shown("192.168.1.7:8000") == f"https://{socket.gethostname()}.local:8443".lower()
    assert shown("[::1]:8000") == f"https://{socket.gethostname()}.local:8443".lower()
    assert Farm.objects.get().label_address == ""
    Farm.objects.update(label_address="http://farm.local:8000")
    assert shown("farm.local:8000") == "http://farm.local:8000"


def test_a_proposed_address_that_is_kept_is_noted_as_set(signed_in):
    form = {"label_stock": "a4-2x7", "nudge_x_mm": "0", "nudge_y_mm": "0", "entry": uuid4()}
    sent = form | {"label_address": "https://farm.local:8443", "postal_address": "3 Mill Lane"}
    assert signed_in.post("/settings/labels", sent).status_code == 302
    farm = Farm.objects.get()
    assert (farm.label_address, farm.postal_address) == ("https://farm.local:8443", "3 Mill Lane")
    changes = Change.objects.filter(subject="farm").values_list("field", "after")
    assert set(changes) == {
        ("label_address", "https://farm.local:8443"), ("postal_address", "3 Mill Lane")
    }  # fmt: skip


def test_one_bunch_is_one_bunch(signed_in):
    from inventory.queries.crates import one_crate
    from inventory.words.labels import crate_label

    lot = make_lot(1, at=timezone.now(), variety="Lacinato")
    farm = Farm.objects.get()
    label = crate_label(one_crate(lot.pk, farm, timezone.now()), farm)
    assert label.headline == "Kale, Lacinato"
    assert "1 bunch" in [text for text, _size in label.lines]


def test_labels_that_say_too_late_are_listed(signed_in):
    from inventory.actions.temperatures import record_readings
    from inventory.models import Room

    now = timezone.now()
    lot = make_lot(at=now - timedelta(days=2))
    other = make_lot(at=now - timedelta(days=2))
    print_them(signed_in, lot.pk)
    assert not signed_in.get("/labels/reprint").context["crates"]
    warm = [(now - timedelta(hours=hours), 18.0) for hours in range(30)]
    record_readings(Room.objects.get(), warm, kind="file", at=now, sensor="late")
    page = signed_in.get("/labels/reprint")
    assert [crate.code for crate in page.context["crates"]] == [lot.pk]
    assert [crate.code for crate in page.context["others"]] == [other.pk]


def test_any_crates_ticked_are_printed_again(signed_in):
    first, _between, last = make_lots(12, 12, 12, at=timezone.now())
    page = signed_in.get("/labels/reprint").content.decode()
    assert f'type="checkbox" name="codes" value="{last.pk}"' in page
    chosen = signed_in.get("/labels", {"codes": [last.pk, first.pk]})
    assert chosen.context["codes"] == [last.pk, first.pk]


def test_a_crate_filled_from_another_is_offered_its_label_at_once(signed_in):
    lot = make_lot(at=timezone.now())
    done = signed_in.post(
        f"/L/{lot.pk}/split", {"entry": uuid4(), "quantity": "5", "position": ""}, follow=True
    )
    child = lot.child_links.get().child_id
    assert [born.pk for born in done.context["born"]] == [child]
    assert "Print 1 label" in done.content.decode()
    moved = signed_in.post(
        f"/L/{lot.pk}/move", {"entry": uuid4(), "position": builders.place("A2").pk}, follow=True
    )
    assert moved.context["born"] == []


def test_a_label_of_an_empty_crate_says_no_amount(signed_in):
    from inventory.queries.crates import one_crate
    from inventory.words.labels import crate_label

    lot = make_lot(at=timezone.now())
    signed_in.post(
        f"/L/{lot.pk}/discard",
        {"entry": uuid4(), "share": "all", "reason": "wilted", "destination": "compost"},
    )
    farm = builders.Farm.objects.get()
    label = crate_label(one_crate(lot.pk, farm, timezone.now()), farm)
    assert not any(text.startswith("0") for text, _size in label.lines)


@pytest.fixture
def tag(signed_in) -> Tag:
    signed_in.post("/settings/tags", {"entry": uuid4(), "count": "12"})
    return Tag.objects.first()


def bind(client, tag, lot):
    return client.post(f"/tag/{tag.pk}/bind", {"entry": uuid4(), "lot": lot.pk})


def test_a_tag_is_bound_with_one_tap_and_freed_when_the_crate_is_empty(signed_in, tag):
    from inventory.actions.quality import discard

    old, new = make_lots(12, 12, at=timezone.now())
    assert "Unused tag" in signed_in.get(f"/L/{tag.pk}").content.decode()
    bind(signed_in, tag, old)
    assert signed_in.get(f"/L/{tag.pk}")["Location"] == f"/L/{old.pk}"
    assert bind(signed_in, tag, new).status_code == 409
    discard(
        builders.act(timezone.now()),
        lot=old.pk,
        portion="all",
        reason="wilted",
        destination="compost",
    )
    assert "Unused tag" in signed_in.get(f"/L/{tag.pk}").content.decode()
    bind(signed_in, tag, new)
    assert signed_in.get(f"/L/{tag.pk}")["Location"] == f"/L/{new.pk}"


def test_twelve_tags_are_bound_in_twelve_taps(signed_in, tag):
    lots = make_lots(*[12] * 12, at=timezone.now())
    for one, lot in zip(Tag.objects.all(), lots, strict=True):
        assert bind(signed_in, one, lot).status_code == 302
    assert Lot.objects.filter(tag_bindings__isnull=False).count() == 12


def test_a_tag_is_never_bound_to_what_is_no_crate(signed_in, tag):
    lot = make_lot(at=timezone.now())
    assert signed_in.post(f"/tag/{tag.pk}/bind", {"entry": uuid4(), "lot": "x"}).status_code == 404
    assert bind(signed_in, tag, tag).status_code == 422
    other = signed_in.post(f"/tag/{lot.pk}/bind", {"entry": uuid4(), "lot": lot.pk})
    assert other.status_code == 422
    for count in ("0", "201", "x", ""):
        assert (
            signed_in.post("/settings/tags", {"entry": uuid4(), "count": count}).status_code == 422
        )


@pytest.mark.parametrize("form", ["pdf", "203"])
def test_no_label_prints_a_cut_day_nobody_gave(signed_in, monkeypatch, form):
    """What is drawn, for a printer and as a picture, are the words of the label."""
    said = []
    monkeypatch.setattr(
        view, "crate_label", lambda *args: said.append(made := crate_label(*args)) or made
    )
    for cut_ago, word in ((None, "in"), (timedelta(0), "cut")):
        lot = make_lot(at=timezone.now(), cut_ago=cut_ago)
        assert print_them(signed_in, [lot.pk], form=form).status_code == 200
        first = said.pop().lines[0][0]
        assert first.split("\N{NO-BREAK SPACE}")[0] == word
    assert not said


@pytest.mark.parametrize("path", ["/labels/reprint", "/labels?codes={code}", "/L/{code}"])
def test_no_row_or_list_says_a_cut_day_nobody_gave(signed_in, path):
    lot = make_lot(at=timezone.now(), cut_ago=None)
    page = signed_in.get(path.format(code=lot.pk)).content.decode()
    text = re.sub(r"<[^>]*>|&nbsp;|\s", " ", page.replace("\N{NO-BREAK SPACE}", " "))
    days = r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d"
    assert not re.search(rf"\bcut {days}", text)
    assert re.search(rf"\bin {days}", text)
