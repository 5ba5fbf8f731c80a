"""How many permanent tags to make."""

from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import NumberField, PlainForm


class TagsForm(PlainForm):
    count = NumberField(label=_("How many tags?"), whole=True, least=1, most=200, initial=12)
