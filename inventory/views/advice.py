"""What the owner answers to a suggestion of the week."""

from datetime import date

from django.http import Http404, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.actions.advice import answer_suggestion
from inventory.forms.advice import AnswerForm
from inventory.queries.advice import read_advice
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, attempt, owner_only, show_form


@require_POST
@owner_only
def answer(request: FarmRequest, day: str) -> HttpResponse:
    """To be done, or not now; what is wrong with it is said on a page with that suggestion."""
    week = _week(request, day)
    form = AnswerForm(request.POST, farm=request.farm)
    action, status = attempt(
        request, form, lambda act: answer_suggestion(act, week=week, **form.content)
    )
    if action:
        return told_at("week-of", week, done=action)
    today = timezone.now().astimezone(request.farm.zone).date()
    asked = request.POST.get("suggestion")
    open_still = read_advice(request.farm, week, today).open
    one = next((one for one in open_still if one.key == asked), None)
    return show_form(
        request, "inventory/ledger/advice.html", form, status, week=week, suggested=one
    )


def _week(request: FarmRequest, day: str) -> date:
    try:
        return request.farm.week_start_of(date.fromisoformat(day))
    except (ValueError, OverflowError) as error:
        raise Http404 from error
