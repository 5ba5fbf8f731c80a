"""The owner's lists: crops, sources, crates, rooms, places, buyers, people, the farm."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import NON_FIELD_ERRORS
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext_lazy as _

from inventory.actions.owner import add_place, save_row
from inventory.actions.setup import MOST_RACKS, MOST_SHELVES, Shelving
from inventory.forms.fields import (
    Chips,
    DayField,
    DegreesApartField,
    NumberField,
    PlainForm,
    RoomTemperatureField,
    TemperatureField,
    UnitField,
    WeightField,
    WordsField,
    leave_checking_to_us,
)
from inventory.forms.people import time_zones
from inventory.keeping import load_reference
from inventory.ledger.book import Act
from inventory.models import Action, Container, Crop, Farm, Outlet, Person, Position, Room, Source


class OwnerForm(forms.ModelForm):
    """A form for one row of a list."""

    def __init__(self, *args: Any, farm: Farm, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        self.farm = farm
        leave_checking_to_us(self)
        for field in self.fields.values():
            if isinstance(field, TemperatureField | DegreesApartField):
                field.use_unit(farm.temperature_unit)
            elif isinstance(field, WeightField):
                field.use_unit(farm.weight_unit)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        untouched = self.fields.keys() - set(self.changed_data)
        kept = [name for name in untouched if isinstance(self.fields[name], UnitField)]
        return data | {name: self.initial[name] for name in kept if name in self.initial}

    def keep(self, act: Act) -> Action:
        """Keep the row as it was typed, with what stood before."""
        return save_row(act, row=self.instance, values=self._set(), secrets=self._secrets())

    def _set(self) -> dict[str, object]:
        """Return what was typed anew, by the row's fields."""
        columns = {field.name for field in self.instance._meta.fields}
        return {name: self.cleaned_data[name] for name in self.changed_data if name in columns}

    def _secrets(self) -> tuple[str, ...]:
        return ()

    def _update_errors(self, errors: forms.ValidationError) -> None:
        """Show a taken name beside the name; the constraint itself knows no field."""
        found = getattr(errors, "error_dict", {})
        taken = [error for error in found.get(NON_FIELD_ERRORS, []) if error.code == "name-taken"]
        if taken:
            found[NON_FIELD_ERRORS] = [e for e in found[NON_FIELD_ERRORS] if e not in taken]
            found.setdefault("name", []).extend(taken)
        super()._update_errors(errors)


class CropForm(OwnerForm):
    name = WordsField(label=_("The farm's own name for it"), max_length=80, required=False)
    keeping_days = NumberField(
        label=_("The farm's own keeping days at the best temperature"),
        required=False,
        least=1,
        most=1000,
    )
    sell_first_days = NumberField(
        label=_("Sell first from how many days left"), whole=True, least=0, most=60
    )
    piece_weight_kg = WeightField(
        label=_("Weight of one piece or bunch"), required=False, least=0, most=1000
    )
    price = NumberField(
        label=_("Price of one kg, bunch or piece, if you like"), required=False,
        least=0, most=100_000,
    )  # fmt: skip

    class Meta:
        model = Crop
        fields = [
            "grown", "name", "unit", "keeping_days", "sell_first_days", "piece_weight_kg", "price",
        ]  # fmt: skip
        labels = {"grown": _("We grow or buy it"), "unit": _("Usual unit")}


class NewCropForm(CropForm):
    """A crop of the farm's own that keeps like one of the reference."""

    class Meta(CropForm.Meta):
        fields = ["reference_key", *CropForm.Meta.fields]
        labels = {**CropForm.Meta.labels, "reference_key": _("Lasts as long as")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].required = True
        self.fields["reference_key"] = forms.ChoiceField(
            label=_("Lasts as long as"),
            choices=sorted(
                ((key, Crop(reference_key=key).full_name) for key in load_reference()),
                key=lambda choice: str(choice[1]),
            ),
        )
        self.order_fields(["name", "reference_key"])


class PickCropsForm(PlainForm):
    """Crops ticked on a list. was: those that were on when the list was shown, and on it."""

    crops = forms.ModelMultipleChoiceField(Crop.objects.all(), required=False)
    was = forms.ModelMultipleChoiceField(Crop.objects.all(), required=False)

    @property
    def switched_on(self) -> list[Crop]:
        return [crop for crop in self.cleaned_data["crops"] if crop not in self.cleaned_data["was"]]

    @property
    def switched_off(self) -> list[Crop]:
        return [crop for crop in self.cleaned_data["was"] if crop not in self.cleaned_data["crops"]]


class SourceForm(OwnerForm):
    name = WordsField(label=_("Name"), max_length=80)
    not_before = DayField(label=_("Do not harvest before"), required=False)
    not_before_reason = WordsField(
        label=_("because of (spray, flood, manure, animals)"), max_length=120, required=False
    )

    lead_days = NumberField(
        label=_("Of a supplier: days from the order to the delivery"),
        required=False, whole=True, least=0, most=60,
    )  # fmt: skip

    class Meta:
        model = Source
        fields = [
            "name", "kind", "organic", "not_before", "not_before_reason", "lead_days", "in_use",
        ]  # fmt: skip
        labels = {
            "kind": _("Block or supplier"),
            "organic": _("Organic"),
            "in_use": _("In use"),
        }


class ContainerForm(OwnerForm):
    name = WordsField(label=_("Name"), max_length=60)
    tare_kg = WeightField(label=_("Empty weight"), least=0, most=200)

    half_cooling_h = NumberField(
        label=_("Hours to lose half its field heat, if known"),
        required=False,
        least=Decimal("0.05"),
        most=200,
    )

    class Meta:
        model = Container
        fields = ["name", "tare_kg", "half_cooling_h", "in_use"]
        labels = {"in_use": _("In use")}


class WeekdaysField(forms.MultipleChoiceField):
    """Days of the week, kept as the digits of their numbers; 0 is Monday."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, **kwargs: Any) -> None:
        days = [(str(day), name) for day, name in WEEKDAYS.items()]
        super().__init__(choices=days, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        return list(value) if isinstance(value, str) else value

    def clean(self, value: Any) -> str:
        return "".join(sorted(super().clean(value)))

    def has_changed(self, initial: Any, data: Any) -> bool:
        return sorted(initial or "") != sorted(data or [])


class OutletForm(OwnerForm):
    name = WordsField(label=_("Name"), max_length=80)
    delivery_days = WeekdaysField(label=_("Delivery days"), required=False)
    by_time = forms.TimeField(
        label=_("There by what time"), required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": _("Type a time like 9:30.")},
    )  # fmt: skip
    cut_off_days = NumberField(
        label=_("How many days before must they order?"),
        required=False, whole=True, least=0, most=30,
    )  # fmt: skip
    minimum_days = NumberField(
        label=_("Days it must still keep there (empty: until their next delivery)"),
        required=False, whole=True, least=0, most=60,
    )  # fmt: skip
    fridge_c = TemperatureField(
        label=_("Their fridge (empty: not known, reckoned warm)"), required=False
    )
    way_hours = NumberField(
        label=_("Hours without cold on the way"), required=False, least=0, most=24
    )
    address = WordsField(label=_("Address"), max_length=160, required=False)
    telephone = WordsField(label=_("Telephone"), max_length=30, required=False)

    class Meta:
        model = Outlet
        fields = [
            "name", "kind", "delivery_days", "by_time", "cut_off_days", "own_grown_only",
            "organic_only", "whole_crates", "one_more", "freshest", "minimum_days", "fridge_c",
            "way_hours", "address", "telephone", "in_use",
        ]  # fmt: skip
        labels = {
            "kind": _("Kind"),
            "whole_crates": _("Takes whole crates only"),
            "one_more": _("Of whole crates rather one too many than too little"),
            "freshest": _("Gets the freshest"),
            "own_grown_only": _("Takes only what we grew ourselves"),
            "organic_only": _("Takes only organic"),
            "in_use": _("In use"),
        }

    def clean_way_hours(self) -> Decimal:
        return self.cleaned_data["way_hours"] or Decimal(0)


class RoomForm(OwnerForm):
    name = WordsField(label=_("Name"), max_length=60)
    target_c = RoomTemperatureField(label=_("Kept at"))

    band_c = DegreesApartField(
        label=_("How many degrees up or down is fine"), least=Decimal("0.5"), most=9
    )
    alarm_after_h = NumberField(
        label=_("Warn after how many hours out of range"), least=Decimal("0.5"), most=72
    )

    class Meta:
        model = Room
        fields = ["name", "target_c", "band_c", "alarm_after_h", "damp"]
        labels = {"damp": _("Its air is damp, as greens need it")}


class NewRoomForm(PlainForm):
    name = WordsField(label=_("Name"), max_length=60)
    target_c = RoomTemperatureField(label=_("Kept at"))
    racks = NumberField(label=_("Racks"), whole=True, least=1, most=MOST_RACKS, initial=1)
    shelves = NumberField(
        label=_("Shelves in each rack"), whole=True, least=1, most=MOST_SHELVES, initial=3
    )
    capacity = NumberField(label=_("Crates on a shelf"), whole=True, least=1, most=99, initial=5)
    damp = forms.BooleanField(
        label=_("Its air is damp, as greens need it"), required=False, initial=True
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["target_c"].use_unit(self.farm.temperature_unit)

    def clean_name(self) -> str:
        name = self.cleaned_data["name"]
        if Room.objects.filter(name__iexact=name).exists():
            raise forms.ValidationError(_("There is a room of that name already."))
        return name

    @property
    def shelving(self) -> Shelving:
        return Shelving(**self.cleaned_data)


class PositionForm(OwnerForm):
    capacity = NumberField(label=_("Crates it holds"), whole=True, least=1, most=99)

    class Meta:
        model = Position
        fields = ["capacity", "cold_spot", "in_use"]
        labels = {"cold_spot": _("Known cold spot: things freeze here"), "in_use": _("In use")}

    def clean_in_use(self) -> bool:
        in_use = self.cleaned_data["in_use"]
        if not in_use and self.instance.lots.exists():
            raise forms.ValidationError(_("Crates stand here. Move them first."))
        return in_use


class NewPositionForm(OwnerForm):
    """One more place: a shelf of a rack, or a place on a shelf."""

    rack = WordsField(label=_("Rack (a letter)"), max_length=8)
    shelf = NumberField(label=_("Shelf, from the top"), whole=True, least=1, most=99)
    place = WordsField(
        label=_("Place on the shelf, if it has several"), max_length=8, required=False
    )
    capacity = NumberField(label=_("Crates it holds"), whole=True, least=1, most=99, initial=5)

    class Meta:
        model = Position
        fields = ["room", "rack", "shelf", "place", "capacity", "cold_spot"]
        labels = {"room": _("Room"), "cold_spot": _("Known cold spot: things freeze here")}

    def clean_rack(self) -> str:
        return self.cleaned_data["rack"].upper()

    def keep(self, act: Act) -> Action:
        return add_place(act, **self.cleaned_data)


class PersonForm(OwnerForm):
    name = WordsField(label=_("Name"), max_length=60)
    new_pin = forms.CharField(
        label=_("New PIN, 4 to 12 digits (empty: leave it); asked once the farm asks for PINs"),
        max_length=12,
        min_length=4,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    new_password = forms.CharField(
        label=_("New password (empty: leave it)"),
        max_length=200,
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    your_password = forms.CharField(
        label=_("Your own password of now (only with a new password)"),
        max_length=200,
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    class Meta:
        model = Person
        fields = ["name", "role", "language", "is_active"]
        labels = {
            "role": _("Role"),
            "language": _("Language"),
            "is_active": _("Works here"),
        }

    def __init__(
        self, *args: Any, person: Person, problem: Callable[[str], str], **kwargs: Any
    ) -> None:
        """problem: what is wrong with this person's password as typed, "" if nothing is."""
        super().__init__(*args, **kwargs)
        self.person = person
        self.problem = problem
        if self.instance.pk is None:
            self.fields["new_pin"].label = _("PIN, 4 to 12 digits, if the farm asks for PINs")
            self.fields["new_password"].label = _("Password, for an owner")

    def clean_new_pin(self) -> str:
        pin = self.cleaned_data["new_pin"]
        if pin and not (pin.isascii() and pin.isdigit()):
            raise forms.ValidationError(_("A PIN is digits only."))
        return pin

    def clean_new_password(self) -> str:
        password = self.cleaned_data["new_password"]
        if password:
            validate_password(password, self.instance)
        return password

    def clean_your_password(self) -> str:
        typed = self.cleaned_data["your_password"]
        if self.data.get("new_password"):
            problem = self.problem(typed) if typed else _("This is still missing.")
            if problem:
                raise forms.ValidationError(problem)
        return typed

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        stays_owner = data.get("role") == Person.Role.OWNER and data.get("is_active")
        if self.instance.pk == self.person.pk and not stays_owner:
            self.add_error("role", _("You can't take the owner's rights from yourself."))
        has_password = self.instance.password and self.instance.has_usable_password()
        needs_password = data.get("role") == Person.Role.OWNER and not has_password
        if needs_password and not data.get("new_password"):
            self.add_error("new_password", _("An owner needs a password."))
        return data

    def _secrets(self) -> tuple[str, ...]:
        """Put the new PIN and password into the row, and return which of them there are."""
        typed = {"pin": self.cleaned_data["new_pin"], "password": self.cleaned_data["new_password"]}
        if typed["pin"]:
            self.instance.set_pin(typed["pin"])
        if typed["password"]:
            self.instance.set_password(typed["password"])
        elif not self.instance.password:
            self.instance.set_unusable_password()
        return tuple(name for name, secret in typed.items() if secret)


_WEEKDAYS = [
    (0, _("Monday")),
    (1, _("Tuesday")),
    (2, _("Wednesday")),
    (3, _("Thursday")),
    (4, _("Friday")),
    (5, _("Saturday")),
    (6, _("Sunday")),
]


class FarmForm(OwnerForm):
    name = WordsField(label=_("Name of the farm"), max_length=80)
    time_zone = forms.ChoiceField(label=_("Time zone"), choices=time_zones)
    week_start = forms.TypedChoiceField(
        label=_("The week starts on"), coerce=int, choices=_WEEKDAYS
    )
    harvest_days = WeekdaysField(label=_("Harvest days (none ticked: every day)"), required=False)
    most_crates_a_day = NumberField(
        label=_("Warn where more crates than this are to be cut on a day"),
        required=False, whole=True, least=1, most=9999,
    )  # fmt: skip
    waste_aim_percent = NumberField(
        label=_("Our aim: the most that is wasted of what leaves, in % (empty: none)"),
        required=False, least=0, most=100,
    )  # fmt: skip
    week_mail_day = forms.TypedChoiceField(
        label=_("Mail the week's figures, to whoever gets the alarms, at five in the afternoon on"),
        coerce=int, empty_value=None, required=False,
        choices=[("", _("no day")), *_WEEKDAYS],
    )  # fmt: skip
    unplaced_room = forms.ModelChoiceField(
        Room.objects.all(),
        label=_("Crates not put away yet count as standing in"),
        required=False,
        empty_label=_("the first room"),
    )

    class Meta:
        model = Farm
        fields = [
            "name", "region", "weight_unit", "temperature_unit", "time_zone", "week_start",
            "harvest_days", "most_crates_a_day", "waste_aim_percent", "week_mail_day",
            "unplaced_room",
            "pin_required",
        ]  # fmt: skip
        widgets = {"region": Chips}
        labels = {
            "region": _("Where is the farm?"),
            "weight_unit": _("Weights in"),
            "temperature_unit": _("Temperatures in"),
            "pin_required": _("Ask for a PIN when a phone changes hands"),
        }
