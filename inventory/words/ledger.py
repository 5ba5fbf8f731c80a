"""Entries of the ledger and actions in words."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory.models import Action, Movement
from inventory.words.days import day_words, moment_words
from inventory.words.units import amount_words, signed_words

COUNT_REASONS = (
    ("miscounted", gettext_lazy("counted wrong before")),
    ("missing", gettext_lazy("some is missing")),
    ("found", gettext_lazy("more was found")),
)
# What counting a place by one tap leaves.
AS_WRITTEN = ("as written", gettext_lazy("as written"))
# Why what comes back from a kitchen is held; see actions/movements.py.
WITH_A_BUYER = ("was with a buyer", gettext_lazy("it was with a buyer"))
# What a late entry leaves beside a count made after it.
KEPT = ("count kept", gettext_lazy("so that this count stays true"))
HOLD_REASONS = (
    ("blood or droppings", gettext_lazy("blood or droppings")),
    ("flood or dirty water", gettext_lazy("flood or dirty water")),
    ("chemical", gettext_lazy("chemical")),
    ("glass or metal", gettext_lazy("glass or metal")),
    ("a doubt", gettext_lazy("a doubt")),
)
# Notes picked from a list are kept in English and shown in the reader's language.
_PICKED_NOTES = dict([*COUNT_REASONS, *HOLD_REASONS, WITH_A_BUYER, AS_WRITTEN, KEPT])


_SAID_OF = ("purpose", "outcome", "reason", "destination", "judgement")
# Looked up once: Django's own display makes and translates all of them each time.
_LABELS = {name: dict(Movement._meta.get_field(name).flatchoices) for name in ("kind", *_SAID_OF)}


def _label(entry: Movement, name: str) -> str:
    value = getattr(entry, name)
    return str(_LABELS[name].get(value, value))


def entry_words(entry: Movement) -> str:
    """Return one entry of the ledger in a few words."""
    words = [_label(entry, "kind"), *_tag(entry)]
    if entry.change:
        words.append(signed_words(entry.change, entry.lot.unit))
    elif entry.amount:
        words.append(amount_words(entry.amount, entry.lot.unit))
    if entry.figure is not None:
        words.append(_("seen: %s") % amount_words(entry.figure, entry.lot.unit))
    if entry.position_id:
        words.append(f"→ {entry.position.room} {entry.position.name}")
    said = [_label(entry, name) for name in _SAID_OF]
    words += [label for label in (said[0], entry.other_party, *said[1:]) if label]
    if entry.kept_until:
        words.append(_("kept until %s") % day_words(entry.kept_until))
    if entry.note:
        words.append(f"“{_PICKED_NOTES.get(entry.note, entry.note)}”")
    return " · ".join(words)


def _tag(entry: Movement) -> list[str]:
    tag = entry.detail.get("tag")
    return [str(tag)] if tag else []


def action_words(action: Action) -> str:
    """Return an action in a few words: what, who, when."""
    return _("“%(what)s” by %(who)s, %(when)s") % {
        "what": f"{action.get_kind_display()} {_one_code(action)}".strip(),
        "who": action.person.name,
        "when": moment_words(action.recorded_at),
    }


def _one_code(action: Action) -> str:
    """Return the crate an action was about, where it was one."""
    codes = set(action.movements.values_list("lot_id", flat=True))
    return codes.pop() if len(codes) == 1 else ""
