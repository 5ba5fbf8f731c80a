"""How many permanent tags to make, and the crate one goes on."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import NumberField, PlainForm
from inventory.models import Lot, Tag
from inventory.queries.tags import others_on
from inventory.words.tags import bind_doubt_words


class TagsForm(PlainForm):
    count = NumberField(label=_("How many tags?"), whole=True, least=1, most=200, initial=12)


class BindForm(PlainForm):
    """One tap on a crate; asked about where it would leave another crate without a label."""

    lot = forms.CharField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, tag: Tag, lot: Lot | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tag, self.crate = tag, lot

    @property
    def doubt(self) -> str:
        """What is asked before the tag goes on; "" where nothing is, or nothing can be done."""
        if self.crate is None or not self.crate.is_here or self.tag.current_lot() == self.crate:
            return ""
        return bind_doubt_words(self.tag, self.crate)

    @property
    def swap(self) -> bool:
        """Whether another tag comes off the crate for this one."""
        return self.crate is not None and bool(others_on(self.crate, self.tag))

    @property
    def all_the_same(self) -> str:
        """The words of the button that answers the doubt."""
        return str(_("Swap the tags") if self.swap else _("Put the tag on all the same"))
