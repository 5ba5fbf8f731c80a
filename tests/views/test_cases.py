"""A case's barcode fills the intake form, and is known the next time."""

import io
import re
from datetime import date, timedelta
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from inventory.actions.undo import undo
from inventory.models import Action, CaseKind, Farm, Intake, Movement, Source
from tests import builders
from tests.labels.barcodes import drawn, photo

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
        "best_before": best.isoformat(), "best_before_kind": "best before", "variety": "Russet",
    }  # fmt: skip
    signed_in.post(f"/in/delivery/{apple}", data)
    intake = Intake.objects.get()
    assert (intake.supplier_reference, intake.best_before) == ("HO-77", best)
    page = signed_in.get(f"/L/{intake.lots.first().pk}").content.decode()
    assert "Best before, on the case" in page
    assert "Apples, Russet" in page
    assert CaseKind.objects.get().crop_id == apple
    again = scanned(signed_in, f"(01){GTIN}(10)HO-78")["Location"]
    assert urlsplit(again).path == f"/in/delivery/{apple}"
    assert parse_qs(urlsplit(again).query)["supplier_reference"] == ["HO-78"]


WARNING = "The label is careless: it says a count of something it does not name."


@pytest.mark.parametrize(("count", "warned"), [("(37)24", True), ("", False)])
def test_a_careless_label_gives_number_and_lot_with_a_warning(signed_in, count, warned):
    """37 without 02 (GS1 Syntax Dictionary); such labels are met: common practice, no source."""
    where = scanned(signed_in, f"(01){GTIN}(10)HO-77{count}")["Location"]
    query = urlsplit(where).query
    assert parse_qs(query)["supplier_reference"] == ["HO-77"]
    page = signed_in.get(f"/in/delivery/{builders.crop('apple').pk}?{query}")
    assert (WARNING in " ".join(page.content.decode().split())) == warned
    assert page.context["form"]["quantity"].value() in (None, "")
    assert 'value="HO-77"' in page.content.decode()


@pytest.mark.parametrize(
    ("elements", "name", "words"),
    [
        ("(11)770101", "packed_on", "packed on Sat 1 Jan 1977"),
        ("(15)160229", "best_before", "best before Mon 29 Feb 2016"),
        ("(17)760101", "best_before", "use by Wed 1 Jan 2076"),
    ],
)
def test_a_date_that_can_hardly_be_is_asked_about_and_not_filled_in(
    signed_in, elements, name, words
):
    """General Specifications 7.12 makes 1977 of (11)77 in 2026; that it can't be: no source."""
    query = urlsplit(scanned(signed_in, f"(01){GTIN}(10)HO-77{elements}")["Location"]).query
    page = signed_in.get(f"/in/delivery/{builders.crop('apple').pk}?{query}")
    assert page.context["form"][name].value() in (None, "")
    assert page.context["form"]["supplier_reference"].value() == "HO-77"
    (question,) = page.context["case_questions"]
    assert question == f"The barcode says: {words}. Is that so? Look and type it."
    assert question in page.content.decode()


def test_dates_that_can_be_are_asked_nothing_about(signed_in):
    today = timezone.now().date()
    year = timedelta(days=365)
    text = f"(01){GTIN}(13){today - year:%y%m%d}(15){today + year:%y%m%d}"
    query = urlsplit(scanned(signed_in, text)["Location"]).query
    page = signed_in.get(f"/in/delivery/{builders.crop('apple').pk}?{query}")
    assert page.context["case_questions"] == []
    assert page.context["form"]["packed_on"].value() == (today - year).isoformat()


def test_a_date_nobody_scanned_asks_nothing(signed_in):
    apple = builders.crop("apple").pk
    for odd in ("x", "2026-13-40", ""):
        page = signed_in.get(f"/in/delivery/{apple}?far_packed_on={odd}&best_before_kind=x")
        assert page.context["case_questions"] == []


@pytest.mark.parametrize(
    "text",
    [
        "(00)123456789012345675", "https://id.gs1.org/00/123456789012345675",
        "123456789012345675", f"(02){GTIN}(37)24",
    ],
)  # fmt: skip
def test_a_pallets_barcode_is_refused_with_a_word(signed_in, text):
    """Application identifiers 00 and 02: GS1 General Specifications, sections 3.3 and 3.4."""
    response = scanned(signed_in, text)
    assert response.status_code == 422
    assert "whole pallet" in response.content.decode()


def test_two_barcodes_that_contradict_each_other_are_said_so(signed_in):
    pictures = [
        drawn("Code128", text) for text in (f"(01){GTIN}(10)A1(13)261120", f"(01){GTIN}(10)B2")
    ]
    out = io.BytesIO()
    photo(*pictures).save(out, "PNG")
    sent = SimpleUploadedFile("case.png", out.getvalue(), "image/png")
    where = signed_in.post("/in/delivery/case", {"photo": sent})["Location"]
    page = signed_in.get(f"/in/delivery/{builders.crop('apple').pk}?{urlsplit(where).query}")
    assert "contradict each other" in page.content.decode()
    assert page.context["form"]["supplier_reference"].value() == "A1"


@pytest.mark.parametrize("text", ["", "4011", "x" * 5000, "<b>", f"(01){GTIN[:-1]}9"])
def test_what_is_no_case_gets_a_sentence(signed_in, text):
    response = scanned(signed_in, text)
    assert response.status_code == 422
    assert "No case barcode" in response.content.decode()
    assert signed_in.get("/in/delivery/case").status_code == 302


@pytest.mark.parametrize(
    ("ai", "kind", "words"),
    [
        ("15", "best before", "Best before, on the case"),
        ("16", "sell by", "Sell by, on the case"),
        ("17", "use by", "Use by, on the case"),
    ],
)
def test_the_kind_of_a_date_goes_from_the_barcode_to_the_pages(signed_in, ai, kind, words):
    """Application identifiers 15, 16, 17: GS1 General Specifications, section 3.4."""
    day = timezone.now().date() + timedelta(days=30)
    found = scanned(signed_in, f"(01){GTIN}({ai}){day:%y%m%d}")["Location"]
    path = f"/in/delivery/{builders.crop('apple').pk}"
    form = signed_in.get(f"{path}?{urlsplit(found).query}").context["form"]
    assert form["best_before"].value() == day.isoformat()
    assert form["best_before_kind"].value() == kind
    page = str(form["best_before_kind"])
    assert page.count("checked") == 1
    data = {
        "entry": uuid4(), "crates": "1", "quantity": "18", "unit": "kg",
        "source": Source.objects.get(name="Orchard").pk,
        "best_before": day.isoformat(), "best_before_kind": form["best_before_kind"].value(),
    }  # fmt: skip
    assert signed_in.post(path, data).status_code == 302
    intake = Intake.objects.get()
    assert (intake.best_before, intake.best_before_kind) == (day, kind)
    for shown in (f"/intake/{intake.pk}", f"/L/{intake.lots.get().pk}"):
        assert f"<dt>{words}</dt>" in signed_in.get(shown).content.decode()


def test_a_date_is_asked_for_its_kind_and_no_date_has_none(signed_in):
    """A use-by binds, a best before does not: which it is nobody guesses."""
    path = f"/in/delivery/{builders.crop('apple').pk}"
    data = {
        "crates": "1", "quantity": "18", "unit": "kg",
        "source": Source.objects.get(name="Orchard").pk,
    }  # fmt: skip

    def send(day, kind):
        dated = {"entry": uuid4(), "best_before": day, "best_before_kind": kind}
        return signed_in.post(path, data | dated)

    refused = send("2028-04-26", "")
    assert refused.status_code == 422
    assert "Say which date it is, as the case has it." in refused.content.decode()
    assert not Intake.objects.exists()
    assert send("2028-04-26", "use by").status_code == 302
    assert send("", "use by").status_code == 302
    told = Intake.objects.order_by("pk").values_list("best_before", "best_before_kind")
    assert list(told) == [(date(2028, 4, 26), "use by"), (None, "")]


@pytest.fixture
def unknown(farm):
    """Two deliveries with dates of before their kind was asked for, and one undone since."""
    cases = [
        builders.make_cases(18, at=timezone.now(), best_before=date(2028, 4, day))[0].intake
        for day in (26, 27, 28)
    ]
    Intake.objects.update(best_before_kind="")
    undo(builders.act(timezone.now()), action=cases[2].action)
    return cases[:2]


def test_a_date_of_unknown_kind_says_so(signed_in, unknown):
    words = "Best before, on the case (which kind of date is not known)"
    for path in (f"/intake/{unknown[0].pk}", f"/L/{unknown[0].lots.get().pk}"):
        assert words in signed_in.get(path).content.decode()


def test_dates_of_unknown_kind_are_listed_for_the_owner_until_they_are_settled(signed_in, unknown):
    builders.make_cases(18, best_before=date(2028, 4, 29), best_before_kind="sell by")
    page = signed_in.get("/settings")
    assert page.context["unknown_dates"] == unknown
    for intake in unknown:
        assert f'href="/intake/{intake.pk}/correct"' in page.content.decode()
    answer = signed_in.post("/settings/dates", {"entry": uuid4()})
    said = Action.objects.get(kind="change")
    assert answer["Location"] == f"/settings?said=act.{said.pk}"
    page = signed_in.get("/settings")
    assert page.context["unknown_dates"] == []
    assert "Dates on cases" not in page.content.decode()
    kinds = [Intake.objects.get(pk=intake.pk).best_before_kind for intake in unknown]
    assert kinds == ["best before"] * 2
    assert Intake.objects.get(best_before=date(2028, 4, 29)).best_before_kind == "sell by"


def test_only_the_owner_settles_the_dates(signed_in, unknown):
    builders.sign_in(signed_in, builders.make_crew())
    assert signed_in.post("/settings/dates", {"entry": uuid4()}).status_code == 403
    assert signed_in.get("/settings").status_code == 403
    assert set(Intake.objects.values_list("best_before_kind", flat=True)) == {""}


def corrected(client, intake, **changes):
    path = f"/intake/{intake.pk}/correct"
    form = client.get(path).context["form"]
    data = {field.html_name: field.value() for field in form}
    typed = {name: value for name, value in data.items() if value is not None} | changes
    return client.post(path, typed | {"entry": uuid4(), "reason": "wrong"})


def kind_of(intake) -> tuple:
    fresh = Intake.objects.get(pk=intake.pk)
    return fresh.best_before, fresh.best_before_kind


def test_a_corrected_kind_is_off_the_owners_list_and_comes_back_by_undo(signed_in, unknown):
    first, second = unknown
    assert corrected(signed_in, first, best_before_kind="use by").status_code == 302
    assert kind_of(first) == (date(2028, 4, 26), "use by")
    assert signed_in.get("/settings").context["unknown_dates"] == [second]
    signed_in.post(f"/undo/{Action.objects.latest('recorded_at').pk}", {"entry": uuid4()})
    assert kind_of(first) == (date(2028, 4, 26), "")
    assert signed_in.get("/settings").context["unknown_dates"] == unknown


def test_a_correction_of_something_else_says_nothing_of_the_kind(signed_in, unknown):
    first = unknown[0]
    assert corrected(signed_in, first, variety="Russet").status_code == 302
    assert kind_of(first) == (date(2028, 4, 26), "")
    assert corrected(signed_in, first).status_code == 422  # nothing was changed


def test_a_date_taken_away_takes_its_kind_along_and_another_brings_one(signed_in, unknown):
    first = unknown[0]
    assert corrected(signed_in, first, best_before="2028-05-01").status_code == 302
    assert kind_of(first) == (date(2028, 5, 1), "best before")
    assert corrected(signed_in, first, best_before="").status_code == 302
    assert kind_of(first) == (None, "")
    assert corrected(signed_in, first, best_before="2028-05-02").status_code == 302
    assert kind_of(first) == (date(2028, 5, 2), "best before")


def test_a_correction_written_before_kinds_were_is_undone_after_they_were_settled(signed_in):
    """What it found had no date, and could not say that it had no kind."""
    intake = builders.make_cases(18, at=timezone.now())[0].intake
    corrected(signed_in, intake, best_before="2028-04-26", best_before_kind="best before")
    action = Action.objects.latest("recorded_at")
    for entry in action.movements.all():
        for told in entry.detail.values():
            del told["best_before_kind"]
        Movement.objects.filter(pk=entry.pk).update(detail=entry.detail)
    assert kind_of(intake) == (date(2028, 4, 26), "best before")
    assert signed_in.post(f"/undo/{action.pk}", {"entry": uuid4()}).status_code == 302
    assert kind_of(intake) == (None, "")


@pytest.mark.parametrize(("days", "past"), [(-1, True), (0, False)])
def test_a_case_past_its_use_by_date_says_so_as_it_comes_in(signed_in, days, past):
    """The date itself is the last day; past it the way back to the supplier stands first."""
    today = timezone.now().astimezone(Farm.objects.get().zone).date()
    data = {
        "entry": uuid4(), "crates": "1", "quantity": "18", "unit": "kg",
        "source": Source.objects.get(name="Orchard").pk, "best_before_kind": "use by",
        "best_before": (today + timedelta(days=days)).isoformat(),
    }  # fmt: skip
    path = f"/in/delivery/{builders.crop('apple').pk}"
    page = signed_in.post(path, data, follow=True).content.decode()
    code = Intake.objects.get().lots.get().pk
    assert ("Past its use-by date" in page) == past
    assert (f'href="/L/{code}/send-back"' in page) == past
    assert ('href="/put-away?intake=' in page) != past


def test_what_went_back_to_its_supplier_is_called_so(signed_in):
    case = builders.make_cases(18, at=timezone.now())[0]
    data = {"entry": uuid4(), "share": "all"}
    page = signed_in.post(f"/L/{case.pk}/send-back", data, follow=True).content.decode()
    heading = re.search(r"<h1>(.*?)</h1>", page, re.DOTALL)[1]
    assert " ".join(heading.split()) == "✓ Sent back to the supplier"
