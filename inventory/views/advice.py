"""What the owner answers to a suggestion of the week."""

from contextlib import suppress

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.actions.advice import answer_suggestion
from inventory.forms.advice import AnswerForm
from inventory.ledger.weeks import CalendarChanged
from inventory.queries.advice import Suggested, count_advice
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, attempt, owner_only, show_form
from inventory.views.week import read_day


@require_POST
@owner_only
def answer(request: FarmRequest, day: str) -> HttpResponse:
    """To be done, or not now; what is wrong with it is said on a page with that suggestion."""
    week = request.farm.week_start_of(read_day(day))
    form = AnswerForm(request.POST, farm=request.farm)
    action, status = attempt(
        request, form, lambda act: answer_suggestion(act, week=week, **form.content)
    )
    if action:
        return told_at("week-of", week, done=action)
    today = timezone.now().astimezone(request.farm.zone).date()
    asked = request.POST.get("suggestion")
    open_still: list[Suggested] = []
    with suppress(CalendarChanged):  # the week is another now
        open_still = count_advice(request.farm, week, today).open
    one = next((one for one in open_still if one.key == asked), None)
    return show_form(
        request, "inventory/ledger/advice.html", form, status, week=week, suggested=one
    )
