"""A room's page, its temperatures in every way they come, its checks and its alarms."""

import csv
from dataclasses import replace
from datetime import date
from uuid import UUID, uuid5

from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from inventory import logger_files
from inventory.actions import imports, owner, temperatures
from inventory.actions.quality import judge_crate
from inventory.errors import Conflict, Refused
from inventory.forms.temperatures import (
    CheckForm,
    CloseAlarmForm,
    ColumnsForm,
    FileForm,
    PaperForm,
    ProbeForm,
    SensorForm,
)
from inventory.ledger.book import Act
from inventory.models import (
    AlarmClosing,
    Intake,
    PaperLog,
    ProbeReading,
    Reading,
    Room,
    RoomCheck,
    Sensor,
    TemperatureFile,
)
from inventory.queries.again import Like
from inventory.queries.alarms import open_alarms
from inventory.queries.crates import Crate, one_crate
from inventory.queries.experience import ask_about
from inventory.queries.temperatures import (
    checks_taken_back,
    log_rows,
    month_of_checks,
)
from inventory.upkeep.loading import turn
from inventory.views.answers import Told, tell, told_at
from inventory.views.entry import (
    FarmRequest,
    act_for,
    answered,
    attempt,
    corrects,
    owner_only,
    show_form,
)
from inventory.words.refusals import sentence


@require_POST
@owner_only
def wrong_reading(request: FarmRequest, pk: int) -> HttpResponse:
    """A reading that was wrong: kept, but counted no more."""
    found = get_object_or_404(Reading, pk=pk)
    temperatures.set_reading_aside(act_for(request), reading=found)
    return told_at("room", found.room_id, done=found)


@require_POST
def undo_reading(request: FarmRequest, pk: int) -> HttpResponse:
    """Take back a temperature just typed: one's own of today, or the owner any."""
    found = get_object_or_404(Reading, pk=pk)
    temperatures.set_reading_aside(act_for(request), reading=found)
    return told_at("room", found.room_id, done=found)


@require_POST
def undo_paper_log(request: FarmRequest, pk: UUID) -> HttpResponse:
    """Take back all that a paper log brought."""
    found = get_object_or_404(PaperLog, pk=pk)
    temperatures.take_back_paper_log(act_for(request), log=found)
    return told_at("room", found.room_id, done=found)


@require_POST
def undo_probe(request: FarmRequest, pk: int) -> HttpResponse:
    """Take back a temperature measured inside the produce."""
    found = get_object_or_404(ProbeReading, pk=pk)
    temperatures.take_back_probe(act_for(request), probe=found)
    return told_at("intake", found.intake_id, done=found)


@require_POST
def undo_check(request: FarmRequest, pk: int) -> HttpResponse:
    """Take back a daily check; what it had replaced stands again."""
    found = get_object_or_404(RoomCheck, pk=pk)
    temperatures.take_back_check(act_for(request), check=found)
    return told_at("checks", found.room_id, f"{found.day:%Y-%m}", done=found)


def paper(request: FarmRequest, pk: int) -> HttpResponse:
    """A paper log, typed in bulk."""
    found = get_object_or_404(Room, pk=pk)
    form = PaperForm(request.POST or None, farm=request.farm)
    status = 200
    if request.method == "POST":
        log, status = attempt(
            request,
            form,
            lambda act: temperatures.type_paper_log(
                act, room=found, rows=form.cleaned_data["lines"]
            ),
        )
        if log:
            return told_at("room", pk, done=log)
    return show_form(request, "inventory/rooms/paper_log.html", form, status, room=found)


def upload(request: FarmRequest, pk: int) -> HttpResponse:
    """A logger's file: kept, its columns guessed, then shown to be confirmed."""
    found = get_object_or_404(Room, pk=pk)
    last = found.files.order_by("-uploaded_at").values_list("sensor", flat=True).first()
    form = FileForm(
        request.POST or None,
        request.FILES or None,
        farm=request.farm,
        initial={"sensor": last or _("Logger")},
    )
    status = 200
    if request.method == "POST":
        file, status = attempt(
            request, form,
            lambda act: imports.keep_file(
                act, room=found, sensor=form.cleaned_data["sensor"],
                data=form.cleaned_data["file"].read(imports.logger_files.MOST_BYTES + 1),
            ),
        )  # fmt: skip
        if file:
            return redirect("temperature-file", file.pk)
    return show_form(request, "inventory/rooms/file_upload.html", form, status, room=found)


def temperature_file(request: FarmRequest, pk: UUID) -> HttpResponse:
    """Confirm the columns; then the progress, which takes up the next piece by itself."""
    file = get_object_or_404(TemperatureFile.objects.select_related("room"), pk=pk)
    gone = _what_is_gone(file)
    if file.rows or gone:
        with turn() as ours:
            context = {"file": file, "gone": gone, "beside": not ours}
        return render(request, "inventory/rooms/file.html", context)
    text, columns = imports.text_of(file), logger_files.Columns(**file.columns)
    form = ColumnsForm(request.POST or None, farm=request.farm, text=text, columns=columns)
    if request.method == "POST" and form.is_valid():
        imports.change_columns(file, form.changed)
        if "look" not in request.POST:
            imports.confirm_columns(file)
        return redirect("temperature-file", pk)
    context = {"file": file, "form": form, "sample": _sample(request, file)}
    status = 422 if form.errors else 200
    return render(request, "inventory/rooms/file.html", context, status=status)


def _what_is_gone(file: TemperatureFile) -> str:
    """Return the sentence on a file that can't be taken up to its end, "" for any other."""
    try:
        imports.need_rest(file)
    except Refused as refusal:
        return sentence(refusal)
    return ""


@require_POST
@owner_only
def wrong_file(request: FarmRequest, pk: UUID) -> HttpResponse:
    """A file that was read wrongly: all of it counts no more, and it may come again."""
    file = get_object_or_404(TemperatureFile, pk=pk)
    temperatures.set_file_aside(act_for(request), file=file)
    return redirect("temperature-file", pk)


def _sample(request: FarmRequest, file: TemperatureFile) -> list[tuple[list[str], object, object]]:
    """Return the first rows of a file and what they are read as, as far as that is sure."""
    columns = logger_files.Columns(**file.columns)
    sample = []
    for _line, row in logger_files.body_rows(imports.text_of(file), columns):
        try:
            moment, celsius = logger_files.read_row(row, columns, request.farm.zone)
        except logger_files.BadRow:
            moment = celsius = None
        if columns.figure_unsure or columns.unit_unsure:
            celsius = None
        sample.append((row, moment, celsius))
        if len(sample) == 5:
            break
    return sample


@require_POST
def take_up(request: FarmRequest, pk: UUID) -> HttpResponse:
    """Take up the next piece of a file, or look how far it is where the watch does it.

    The page asks again until it is done.
    """
    file = get_object_or_404(TemperatureFile, pk=pk)
    with turn() as ours:
        gone = _what_is_gone(file)
        if ours and not gone:
            file = imports.take_up_chunk(pk, request.farm, timezone.now())
    if not request.htmx:
        return redirect("temperature-file", pk)
    context = {"file": file, "gone": gone, "beside": not ours}
    return render(request, "inventory/rooms/file.html#progress", context)


@corrects
def check(request: FarmRequest, pk: int) -> HttpResponse:
    """The ten-second daily check."""
    found = get_object_or_404(Room, pk=pk)
    asked = _asked_about(request, found)
    form = CheckForm(request.POST or None, farm=request.farm, asked=asked)
    status = 200
    if request.method == "POST":
        like = Like(room=found) if form["temperature"].value() else None
        made, status = attempt(request, form, lambda act: _check(act, found, form), like)
        if made:
            look, not_kept = made
            month = f"{look.day:%Y-%m}"
            if not_kept:
                return checks(request, pk, month, not_kept, told=tell(request, look))
            return told_at("checks", pk, month, done=look)
    # Whether the door opens is asked beside its caution, not once a week.
    weekly = [form[name] for name in CheckForm.WEEKLY if name != "opens_from_inside"]
    return show_form(request, "inventory/rooms/check.html", form, status, room=found, weekly=weekly)


def _asked_about(request: FarmRequest, found: Room) -> Crate | None:
    """Return the crate the page asks about, or asked about when it was answered."""
    now = timezone.now()
    code = request.POST.get("asked")
    return one_crate(code, request.farm, now) if code else ask_about(found, request.farm, now)


@transaction.atomic
def _check(act: Act, found: Room, form: CheckForm) -> tuple[RoomCheck, str]:
    """Write down the look at a room, and what was answered of the one crate asked about.

    Returns the look, and why the answer could not be kept, if it could not: somebody may have
    taken the crate out since the page was opened, which is no fault of the look.
    """
    judged, not_kept = None, ""
    if form.asked is not None and form.answer:
        one = replace(act, id=uuid5(act.id, form.asked.code))
        try:
            judged = judge_crate(one, lot=form.asked.code, answer=form.answer)
        except Conflict as conflict:
            not_kept = sentence(conflict)
    return temperatures.check_room(act, room=found, judged=judged, **form.content), not_kept


def checks(
    request: FarmRequest, pk: int, month: str, not_kept: str = "", **around: Told
) -> HttpResponse:
    """A month of daily checks, for printing.

    not_kept: why the answer sent with the last check was not kept. around: what stands around
    this page in place of what stands around every page.
    """
    found = get_object_or_404(Room, pk=pk)
    try:
        first = date.fromisoformat(f"{month}-01")
        if first.year < 2000:
            raise ValueError(month)
        days = month_of_checks(found, request.farm, first)
    except (ValueError, OverflowError) as error:
        raise Http404 from error
    context = {
        "room": found,
        "first": first,
        "days": days,
        "taken_back": checks_taken_back(found, first),
        "not_kept": not_kept,
        **around,
    }
    return render(request, "inventory/rooms/checks.html", context)


@owner_only
def close_alarm(request: FarmRequest, pk: int, started: int, side: str) -> HttpResponse:
    """Close a spell out of range with what was done about it."""
    found = get_object_or_404(Room, pk=pk)
    alarm = next(
        (
            alarm
            for alarm in open_alarms(timezone.now())
            if (alarm.room, alarm.started_s, alarm.excursion.side) == (found, started, side)
        ),
        None,
    )
    if alarm is None:
        return redirect("room", pk)
    form = CloseAlarmForm(request.POST or None, farm=request.farm)
    status = 200
    if request.method == "POST":
        spell = alarm.excursion
        closed, status = attempt(
            request, form,
            lambda act: temperatures.close_alarm(
                act, room=found, started_at=spell.start, ended_at=spell.end, side=spell.side,
                peak_c=spell.peak_c, done=form.cleaned_data["done"],
            ),
        )  # fmt: skip
        if closed:
            return told_at("room", pk, done=closed)
    return show_form(request, "inventory/rooms/alarm.html", form, status, room=found, alarm=alarm)


@require_POST
@owner_only
def reopen_alarm(request: FarmRequest, pk: int) -> HttpResponse:
    """Take back that an alarm was closed."""
    earlier = answered(request)
    if earlier is not None:
        return told_at("rooms", done=earlier)
    closing = get_object_or_404(AlarmClosing, pk=pk)
    room = closing.room_id
    return told_at("room", room, done=owner.reopen_alarm(act_for(request), closing=closing))


@owner_only
def sensors(request: FarmRequest) -> HttpResponse:
    """The sensors that post by themselves. A new one's token is shown once."""
    form = SensorForm(request.POST or None, farm=request.farm)
    token, status = "", 200
    if request.method == "POST":
        made, status = attempt(
            request, form, lambda act: temperatures.make_sensor(act, **form.cleaned_data)
        )
        if made:
            token = temperatures.token_of(made)
    return show_form(
        request,
        "inventory/rooms/sensors.html",
        form,
        status,
        token=token,
        sensors=Sensor.objects.select_related("room"),
        address=_reachable(request, reverse("api-readings")),
    )


def _reachable(request: FarmRequest, path: str) -> str:
    """Return an address that other machines can open too, as far as the farm has set one."""
    return f"{request.farm.label_address or request.build_absolute_uri('/').rstrip('/')}{path}"


@require_POST
@owner_only
def revoke(request: FarmRequest, pk: int) -> HttpResponse:
    temperatures.revoke_sensor(act_for(request), sensor=get_object_or_404(Sensor, pk=pk))
    return told_at("sensors", done="sensor-ended")


@require_POST
def probe(request: FarmRequest, pk: int) -> HttpResponse:
    """The temperature inside the produce of an intake, measured again."""
    intake = get_object_or_404(Intake, pk=pk)
    form = ProbeForm(request.POST, farm=request.farm)
    made, status = attempt(
        request,
        form,
        lambda act: temperatures.probe(act, intake=intake, celsius=form.cleaned_data["pulp_c"]),
    )
    if made:
        return told_at("intake", pk, done=made)
    return show_form(request, "inventory/intakes/probe.html", form, status, intake=intake)


@owner_only
def log_csv(request: FarmRequest, pk: int) -> HttpResponse:
    """A room's last month as CSV, mean kinetic temperature first, alarms and closings after."""
    found = get_object_or_404(Room, pk=pk)
    response = HttpResponse(
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="temperatures.csv"'},
    )
    csv.writer(response).writerows(log_rows(found, request.farm, timezone.now()))
    return response
