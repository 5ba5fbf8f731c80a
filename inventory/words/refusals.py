"""The sentence of each refusal, in the reader's language."""

from typing import Any

from django.utils.translation import gettext_lazy as _

from inventory import measures
from inventory.codes import InvalidCode
from inventory.errors import Refused
from inventory.labels.read import NoPicture
from inventory.models import Lot
from inventory.models.crops import Unit
from inventory.words.days import day_words
from inventory.words.ledger import action_words
from inventory.words.orders import restriction_words

# By the code of a refusal, with its facts to be filled in.
_SENTENCES = {
    "address-printed": _("Labels of crates, or tags, were made with this address. It stays ours."),
    "address-set": _("Labels carry this address now. Save another one first."),
    "alarm-done": _("Say what was wrong and what was done."),
    "already-mixed": _(
        "Crates of this were already combined with others, so the crop can't be changed. "
        "Count or discard what is wrong instead."
    ),
    "before-arrival": _("It had not come in yet."),
    "block-closed": _(
        "Nothing may be harvested from here before %(day)s: %(reason)s. Only the owner can allow "
        "it, with a reason."
    ),
    "check-replaced": _("A later check of that day stands in its place. Take that one back first."),
    "crate-count": _("Between 1 and %(most)s crates at a time."),
    "crates-back": _("At most %(most)s: no more than went out, and something in each."),
    "crate-too-full": _("One crate can't hold more than %(most)s."),
    "cut-after-arrival": _("It had come in before that. Choose a longer time."),
    "date-reason": _("Say why the use-by date is another one."),
    "destination": _("Say where the culls go."),
    "farm-exists": _("The farm is set up already."),
    "file-empty": _("There is nothing in this file."),
    "file-fails": _(
        "This file could not be loaded, so the others go on without it. It is tried again every "
        "hour. Or send it again: what was loaded of it stays, and nothing is counted twice."
    ),
    "file-figure": _("No column of this file holds temperatures."),
    "file-gone": _(
        "The text of this file is gone. Send the file again: what was loaded of it stays, and "
        "nothing is counted twice."
    ),
    "file-table": _("This file is no table that can be read to its end."),
    "file-time": _("No column of this file holds dates and times."),
    "file-too-big": _("This file is too big: at most 20 MB or 600000 rows."),
    "file-wide": _("This file has more than 40 columns. Leave some out and send it again."),
    "future": _("That is still to come. Check the date and time."),
    "handed-already": _("This was handed over already: slip %(number)s. Take that back first."),
    "held": _("Crate %(code)s is on hold. Only the owner can release it."),
    "held-already": _("It is on hold already."),
    "hold-reason": _("Say why it goes on hold."),
    "intake-undone": _("This was undone; there is nothing left to correct."),
    "keep-days": _("Keep it for 1 to %(most)s days, then look again."),
    "later-entry": _(
        "The last entry of crate %(code)s is written for a later day. Set the clock of this "
        "machine right; the owner can undo that entry."
    ),
    "contradicts-later": _(
        "That can't have been: crate %(code)s. %(later)s came after it and would not fit any more. "
        "Look at both; what is true now can be written as of now."
    ),
    "happened-before": _(
        "Crate %(code)s has gone on since: %(later)s. This can only be written as of now."
    ),
    "not-yet-here": _("Crate %(code)s had not come in yet then."),
    "leave-some": _("Leave something in the first crate: it holds %(left)s %(unit)s."),
    "more-than-market": _("Only %(left)s %(unit)s are out."),
    "more-than-out": _("Only %(left)s %(unit)s of crate %(code)s are out."),
    "more-than-slip": _(
        "Of crate %(code)s only %(left)s %(unit)s on this slip are not credited yet."
    ),
    "more-than-there": _("Only %(left)s %(unit)s are left in crate %(code)s."),
    "no-longer-open": _("This order is finished or cancelled. Open it again, or start a new one."),
    "no-crates": _("Tap at least one crate."),
    "no-number": _("Type the amount as a number, like 5 or 2.5."),
    "not-wanted": _("This order does not want what is in crate %(code)s."),
    "open-already": _("This order is open already."),
    "repeats-already": _("This order repeats already."),
    "repeats-not": _("This order does not repeat."),
    "unknown-order": _("The order is not as your page shows it any more. Open it again."),
    "buyer-off": _("%(outlet)s is not in use. The owner can put it back under “Buyers”."),
    "due-past": _("That day is over. Choose today or a later one."),
    "due-far": _("That is more than a year off. Check the day."),
    "not-spoken-of": _("A walk speaks of the next %(days)s days. Choose one of them."),
    "line-full": _("This order has all it wants of that by now. Open it again."),
    "no-lines": _("Type how much of at least one crop."),
    "not-a-block": _("Choose a block of the farm."),
    "not-a-supplier": _("Choose a supplier."),
    "not-alike": _("Crate %(code)s holds another crop or unit."),
    "not-bought": _("Crate %(code)s did not come from one supplier; it can't be sent back."),
    "not-on-slip": _("Crate %(code)s is not on this slip."),
    "not-held": _("Crate %(code)s is not on hold."),
    "not-here": _("Crate %(code)s is not here: %(state)s."),
    "not-positive": _("Type an amount above 0."),
    "not-whole": _("Count whole %(unit)s."),
    "no-offer": _("The record can't offer a figure yet."),
    "nothing-changed": _("Nothing is different from before."),
    "nothing-out": _("Nothing of %(code)s is out."),
    "nothing-taken": _("Nothing was taken for this order yet."),
    "nothing-to-wash": _("No crate waits to be washed."),
    "nothing-to-settle": _("Tick what is to be fixed."),
    "nothing-to-hold": _("There is nothing left here to put on hold."),
    "other-offer": _("The record offers another figure now: %(days)s. Look at it again."),
    "other-kind-of-source": _("A harvest comes from a block, a delivery from a supplier."),
    "outlet-refuses": _("%(outlet)s does not take this: %(tag)s."),
    "outlet-refuses-one": _("Crate %(code)s: %(outlet)s does not take this: %(tag)s."),
    "other-way": _(
        "It is %(number)s now. Type a number that goes the way the suggestion says, or tap "
        "“Not now”."
    ),
    "owner-only": _("Only the owner can do this, signed in with the password."),
    "past-use-by": _(
        "Crate %(code)s is past its use-by date: it may not be sold, given or used any more. "
        "Discard it or send it back to the supplier. If the date was entered wrongly, correct it "
        "on the delivery's page."
    ),
    "release-reason": _("Say why it may go again."),
    "sensor-exists": _("There is a sensor of that name already."),
    "sent-before": _(
        "This form was sent before with something else in it. Look at what was written, "
        "then open a new form."
    ),
    "shelves": _("At most %(racks)s racks of %(shelves)s shelves."),
    "six-years-ago": _("That is more than six years ago. Check the date."),
    "sort-sum": _("Firsts, seconds, culls and lost must add up to %(total)s %(unit)s."),
    "slip-withdrawn": _("This slip is withdrawn: nothing of it was handed over."),
    "suggestion-gone": _(
        "That was answered, or does not hold any more: what it was drawn from was put right."
    ),
    "tag-count": _("Between 1 and %(most)s tags at a time."),
    "tag-in-use": _("Tag %(code)s is still on crate %(lot)s, which is not empty."),
    "taken-already": _("Crate %(code)s was taken or given up already."),
    "to-whom": _("Say to whom it was given."),
    "too-fine": _("At most three decimals."),
    "too-long-ago": _("That is more than %(days)s days ago. Check the date."),
    "two-crates": _("Combining takes at least two crates."),
    "undo-blocked": _("%(blocker)s came later and still stands. Undo that first."),
    "undo-not-yours": _("You can undo your own entries until the end of the day. Ask the owner."),
    "undo-of-undo": _("Undone by mistake? Do the thing again."),
    "undo-of-change": _("Set it back where it was set."),
    "undone-already": _("This was undone already."),
    "unknown-code": _("No crate has the code %(code)s."),
    "wait": _("Too many wrong tries. Wait %(seconds)s s, then try again."),
    "warm-hours": _("Type between 0 and 72 hours."),
    "who-took": _("Type who took it."),
    "what-seen": _("Say what you saw and smelled."),
}

_CODE_SENTENCES = {
    "length": _("A code has 7 characters, or type just the last 4."),
    "character": _("That has a character no code has. Check it with the label."),
    "check": _("One letter or number is wrong. Check it with the label."),
}


_PICTURE_SENTENCES = {
    "size": _(
        "This picture is too big: at most 20 MB, and 50 million dots as JPEG or 13 million as PNG "
        "or WebP."
    ),
    "busy": _("Other pictures are being looked at. Try it again in a moment, or type the code."),
    "kind": _("This is no picture that can be read: JPEG, PNG or WebP."),
    "no-label": _("No label was found in the picture. Go closer, or type the code."),
}


def sentence(refusal: Refused) -> str:
    """Return what a refusal tells the person."""
    facts = {name: _word(name, value) for name, value in refusal.facts.items()}
    return _SENTENCES[refusal.code] % facts


def code_sentence(error: InvalidCode) -> str:
    return str(_CODE_SENTENCES[error.reason])


def picture_sentence(error: NoPicture) -> str:
    return str(_PICTURE_SENTENCES[error.reason])


def _word(name: str, value: Any) -> object:
    words = {
        "days": measures.plain,
        "left": measures.plain,
        "total": measures.plain,
        "most": measures.plain,
        "unit": lambda unit: Unit(unit).label,
        "state": lambda state: Lot.State(state).label,
        "day": day_words,
        "tag": restriction_words,
        "blocker": action_words,
        "later": lambda entry: action_words(entry.action),
        "reason": lambda reason: reason or "–",
    }
    return words[name](value) if name in words else value
