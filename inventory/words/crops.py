"""The handbook's name of a crop, and its kind, in words."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory.keeping import Reference
from inventory.models import Crop
from inventory.queries.crops import names_of

GROUPS = {
    "leafy": gettext_lazy("Leafy greens"),
    "root": gettext_lazy("Roots and tubers"),
    "allium": gettext_lazy("Onions, garlic, leeks"),
    "brassica": gettext_lazy("Cabbage, broccoli and the like"),
    "fruiting": gettext_lazy("Tomatoes, peppers, squash, corn"),
    "legume": gettext_lazy("Peas and beans"),
    "stem": gettext_lazy("Celery, asparagus and the like"),
    "herb": gettext_lazy("Herbs"),
    "melon": gettext_lazy("Melons"),
    "berry": gettext_lazy("Berries and grapes"),
    "pome": gettext_lazy("Apples, pears, quinces"),
    "stone": gettext_lazy("Fruit with a stone"),
    "citrus": gettext_lazy("Citrus"),
    "tropical": gettext_lazy("Avocados, bananas, mangoes"),
    "other": gettext_lazy("Other fruit"),
    "sprout": gettext_lazy("Sprouts and microgreens"),
    "mushroom": gettext_lazy("Mushrooms"),
    "flower": gettext_lazy("Edible flowers"),
}


def group_words(group: str) -> str:
    return str(GROUPS[group])


def handbook_words(reference: Reference) -> str:
    """Return how the handbook calls a crop, with its form or ripeness."""
    return _(reference.name)


def search_names(crop: Crop) -> str:
    """Return every name of a crop, as the search box of a page looks for them."""
    return names_of(crop)
