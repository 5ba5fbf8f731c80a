"""A table of crates by place: what became of each, said in one form."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from inventory.actions.by_place import Discarded, Kept, Missing, Said, TakenOut
from inventory.forms.crates import (
    DISCARD_REASONS,
    OTHER_DESTINATIONS,
    PAST_DATE,
    USUAL_DESTINATIONS,
)
from inventory.forms.fields import (
    Chips,
    DayField,
    NumberField,
    PlainForm,
    WordsField,
    leave_checking_to_us,
)
from inventory.ledger.book import OLDEST_LATE
from inventory.models import Movement, Outlet, Position
from inventory.queries.by_place import PlaceRow
from inventory.queries.crates import Crate

THROWN, GONE = "thrown", "gone"
KEEP_DAYS = (1, 2)
_LOOKED = gettext_lazy("looked at shelf by shelf")
# On a day nobody wrote down, a time is remembered as a part of it.
PARTS = (
    ("08:00", gettext_lazy("morning")),
    ("12:00", gettext_lazy("midday")),
    ("17:00", gettext_lazy("evening")),
)


@dataclass(frozen=True)
class TableRow:
    """A place, its crates, and the fields of each."""

    position: Position | None
    crates: list[tuple[Crate, list[BoundField]]]

    @property
    def is_said(self) -> bool:
        """Whether anything was said of a crate here."""
        return any(field.data or field.errors for _crate, own in self.crates for field in own)


class ByPlaceForm(PlainForm):
    """For each crate of a table one choice; none says nothing of it."""

    reason = forms.ChoiceField(
        label=gettext_lazy("Why thrown out?"),
        choices=[("", "–"), *DISCARD_REASONS],
        required=False,
    )
    destination = forms.ChoiceField(
        label=gettext_lazy("Where does it go?"),
        choices=USUAL_DESTINATIONS + OTHER_DESTINATIONS,
        initial=Movement.Destination.COMPOST,
        widget=Chips,
    )
    usual, elsewhere = USUAL_DESTINATIONS, OTHER_DESTINATIONS

    def __init__(self, *args: Any, rows: list[PlaceRow], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.place_rows = rows
        self.crates = [crate for row in rows for crate in row.crates]
        for crate in self.crates:
            self.add_crate(crate)
        leave_checking_to_us(self)

    def add_crate(self, crate: Crate) -> None:
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if gone := self._no_longer_here():
            told = _("No longer here: %(codes)s. Open the page again for the others.")
            self.add_error(None, told % {"codes": ", ".join(gone)})
        thrown = [crate for crate in self.crates if data.get(f"do-{crate.code}") == THROWN]
        if any(not crate.is_past_a_date for crate in thrown) and not data.get("reason"):
            self.add_error("reason", _("Say why."))
        return data

    def said_of(self, crate: Crate, chosen: str) -> Said | None:
        raise NotImplementedError

    @property
    def rows(self) -> Iterator[TableRow]:
        """Yield each place with its crates and the fields of each."""
        for row in self.place_rows:
            crates = [(crate, self.fields_of(crate)) for crate in row.crates]
            yield TableRow(row.position, crates)

    def _no_longer_here(self) -> list[str]:
        """Return the crates something was said of that have left since the page was opened."""
        said = [name for name, value in self.data.items() if name.startswith("do-") and value]
        return sorted(name[3:10] for name in said if name not in self.fields)

    def fields_of(self, crate: Crate) -> list[BoundField]:
        return [self[name] for name in (f"do-{crate.code}", f"much-{crate.code}")
                if name in self.fields]  # fmt: skip

    @property
    def said(self) -> list[Said]:
        """Return what was said of the crates that anything was said of."""
        found = (
            self.said_of(crate, self.cleaned_data[f"do-{crate.code}"]) for crate in self.crates
        )
        return [one for one in found if one]

    def _thrown(self, crate: Crate, portion: Decimal | str) -> Said:
        data = self.cleaned_data
        reason = PAST_DATE[0] if crate.is_past_a_date else data["reason"]
        return Discarded(crate.code, portion, reason, data["destination"])


def _keep(days: int) -> str:
    return ngettext("keep %(days)s day", "keep %(days)s days", days) % {"days": days}


class LookForm(ByPlaceForm):
    """The walk along what is past its time: thrown out, kept for some days, or not there."""

    def add_crate(self, crate: Crate) -> None:
        keep = [] if crate.is_past_use_by else [(str(days), _keep(days)) for days in KEEP_DAYS]
        self.fields[f"do-{crate.code}"] = forms.ChoiceField(
            label=f"{crate.lot.shown_name} {crate.code}",
            choices=[(THROWN, _("discard")), *keep, (GONE, _("not there"))],
            widget=Chips,
            required=False,
        )

    def said_of(self, crate: Crate, chosen: str) -> Said | None:
        if chosen == THROWN:
            return self._thrown(crate, "all")
        if chosen == GONE:
            return Missing(crate.code, "all", "missing")
        return Kept(crate.code, int(chosen), str(_LOOKED)) if chosen else None


class CatchUpForm(ByPlaceForm):
    """What happened on a day nobody wrote down: which crate went where, and about when."""

    day = DayField(label=gettext_lazy("Which day?"))
    about = forms.ChoiceField(
        label=gettext_lazy("About when?"), choices=PARTS, initial="12:00", widget=Chips
    )
    to = WordsField(label=gettext_lazy("Given to whom?"), max_length=80, required=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        self.today = today
        self.outlets = {str(outlet.pk): outlet for outlet in Outlet.objects.filter(in_use=True)}
        super().__init__(*args, **kwargs)
        self.initial.setdefault("day", today - timedelta(days=1))

    def add_crate(self, crate: Crate) -> None:
        buyers = [(key, outlet.name) for key, outlet in self.outlets.items()]
        elsewhere = [
            (Movement.Purpose.GIVEN.value, _("given")),
            (Movement.Purpose.OWN_USE.value, _("own use")),
            (THROWN, _("discarded")),
            (GONE, _("not there")),
        ]
        name = f"{crate.lot.shown_name} {crate.code}"
        self.fields[f"do-{crate.code}"] = forms.ChoiceField(
            label=name, choices=[("", "–"), *buyers, *elsewhere], required=False
        )
        self.fields[f"much-{crate.code}"] = NumberField(
            label=_("How much of it: %(crate)s") % {"crate": name},
            required=False,
            least=0,
            most=1_000_000,
        )
        self.fields[f"much-{crate.code}"].widget.attrs["placeholder"] = _("all")

    def clean_day(self) -> date:
        day = self.cleaned_data["day"]
        if not self.today - OLDEST_LATE <= day <= self.today:
            raise forms.ValidationError(_("Of today, or of the sixty days before."))
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for crate in self.crates:
            chosen, much = data.get(f"do-{crate.code}"), data.get(f"much-{crate.code}")
            if much is not None and not chosen:
                self.add_error(f"do-{crate.code}", _("Say where it went."))
            if chosen == Movement.Purpose.GIVEN and not data.get("to"):
                self.add_error("to", _("Say to whom."))
        return data

    def happened_at(self, now: datetime) -> datetime:
        """Return about when it happened, never later than now."""
        part = time.fromisoformat(self.cleaned_data["about"])
        said = datetime.combine(self.cleaned_data["day"], part, self.farm.zone)
        return min(said, now)

    def said_of(self, crate: Crate, chosen: str) -> Said | None:
        much = self.cleaned_data[f"much-{crate.code}"]
        portion = "all" if much is None else much
        if not chosen:
            return None
        if chosen == THROWN:
            return self._thrown(crate, portion)
        if chosen == GONE:
            return Missing(crate.code, portion, "missing")
        if chosen in self.outlets:
            outlet = self.outlets[chosen]
            return TakenOut(crate.code, portion, outlet.purpose, outlet)
        to = self.cleaned_data["to"] if chosen == Movement.Purpose.GIVEN else ""
        return TakenOut(crate.code, portion, chosen, None, to)
