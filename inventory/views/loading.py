"""What to load for the next market day."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.forms.loading import LoadingForm
from inventory.learning.demand import Weather
from inventory.queries.loading import Question, markets, next_market, read_loading
from inventory.rotation.loading import Rather
from inventory.views.entry import FarmRequest


def load(request: FarmRequest) -> HttpResponse:
    """Per crop how many crates, the arithmetic folded; a person's own numbers come by address."""
    at = timezone.now()
    today = timezone.localdate(at, request.farm.zone)
    form = LoadingForm(request.GET.dict(), farm=request.farm, today=today)
    asked = _asked(form)
    context: dict[str, object] = {"form": form}
    if asked:
        found = read_loading(request.farm, at, asked)
        form.data = _shown(form, asked)
        context |= {"found": found, "rows": [(row, form.fields_of(row)) for row in found.rows]}
    status = 200 if form.is_valid() else 422
    return render(request, "inventory/orders/load.html", context, status=status)


def _asked(form: LoadingForm) -> Question | None:
    """Return what was asked as far as it can be understood; None where there is no market."""
    form.is_valid()
    said = form.cleaned_data
    outlet = said.get("market") or next(iter(markets()), None)
    if outlet is None:
        return None
    day = said.get("day") or next_market(outlet, form.today)
    weather = said.get("weather", Weather.USUAL)
    return Question(outlet, day, weather, said.get("rather", Rather.EVEN), form.own)


def _shown(form: LoadingForm, asked: Question) -> dict[str, str]:
    """Return what stands in the form: what was typed, and what was taken where nothing was."""
    taken = {
        "market": str(asked.outlet.pk),
        "day": asked.day.isoformat(),
        "weather": asked.weather.value,
        "rather": asked.rather.value,
    }
    return taken | {name: typed for name, typed in form.data.items() if typed}
