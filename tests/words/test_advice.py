"""Every rule in words: what is suggested and why, what was answered, what followed."""

from decimal import Decimal

import pytest

from inventory.learning.advice import Advice, Figures, Rule, Share, Topic
from inventory.queries.advice import ABOUT_MARKETS, Answered, Suggested
from inventory.words.advice import (
    followed_words,
    headline_words,
    moved_words,
    number_name,
    reason_words,
    said_words,
)
from tests.builders import crop, market
from tests.models.test_advice import answered

D = Decimal
SUMS = (Share(D(12), D(36)), Share(D(14), D(36)))
BARE = (Share(D(5)), Share(D(4)))

# rule, about, before, proposed, sums, and what is said: headline, sums, answer, and what followed
TOLD = {
    Rule.CUT_LESS: (
        "2", 3, 2, SUMS,
        "Cut a crate less of Kale on Wednesday.",
        "12 of 36, 14 of 36 bunches. So 2 crates, not 3.",
        "Kale on Wednesday: cut 2 crates, not 3",
        "cut 3 crates → 1 crate", "came back or thrown away 12 bunches → 1 bunch",
    ),
    Rule.CUT_LATER: (
        "", 5, 2, BARE,
        "Cut Kale nearer the market: 2 days before Market.",
        "it was old: 5, 4 days. Cut on the last harvest day before, it is 2 days old.",
        "Kale: cut 2 days before Market, not 5",
        "age at market 5 days → 1 day", "came back 12 bunches → 1 bunch",
    ),
    Rule.COOL_SOONER: (
        "", 22, 10, (Share(D(22), D(20)),),
        "Get Kale into the cold sooner.",
        "About 22 % of its keeping life was gone before it was cold. From 20 % on that is much",
        "Kale: 10 % of its life gone before it is cold, not 22 %",
        "life gone before it was cold 22 % → 1 %", "",
    ),
    Rule.LOOK_FIRST: (
        "A1", 2, 0, (Share(D(4)),),
        "Look at shelf A1 first: older Kale stands there.",
        "a younger crate went out 4 times while an older one stood there; this week 2.",
        "Kale: look at shelf A1 first",
        "older crates left standing 2 → 1", "",
    ),
    Rule.LOAD_MORE: (
        "", 2, 3, BARE,
        "Load a crate more of Kale for Market.",
        "Sold out early at two markets running, with 5, 4 bunches. So 3 crates, not 2.",
        "Kale for Market: load 3 crates, not 2",
        "loaded 2 crates → 1 crate", "came back 12 bunches → 1 bunch",
    ),
    Rule.CHECK_PLACE: (
        "A4", 5, 0, BARE,
        "Check place A4: cold hurts Kale there.",
        "and thrown away: 5, 4 bunches.",
        "Kale: check place A4",
        "thrown away from there 5 bunches → 1 bunch", "",
    ),
}  # fmt: skip


@pytest.mark.usefixtures("farm")
def test_every_rule_is_said():
    assert set(TOLD) == set(Rule)
    kale, stall = crop(), market()
    for rule, (about, before, proposed, sums, headline, reason, said, moved, after) in TOLD.items():
        buyer = stall if rule in ABOUT_MARKETS else None
        topic = Topic(rule, kale.pk, "bunch", about)
        one = Suggested(Advice(topic, D(before), D(proposed), sums, D(12), D(12)), kale, buyer)
        assert headline_words(one) == headline
        assert reason in reason_words(one)
        row = answered(rule=rule, about=about, before=before, figure=proposed, outlet=buyer)
        assert said_words(row) == f"To be done: {said}"
        now = Answered(row, Figures(D(1), D(1)))
        assert (moved_words(now), followed_words(now)) == (moved, after)


@pytest.mark.usefixtures("farm")
def test_a_week_without_its_figure_says_so():
    row = answered(answer="waved")
    assert said_words(row).startswith("Not now: Kale")
    for now in (None, Figures(None, None)):
        one = Answered(row, now)
        assert moved_words(one) == "no figure of it in this week"
        assert followed_words(one) == ""
        assert not one.is_done


@pytest.mark.usefixtures("farm")
def test_only_what_is_counted_can_be_another_number():
    named = {
        rule: number_name(
            Suggested(Advice(Topic(rule, 1, "kg"), D(1), D(0), (), D(0), D(0)), crop())
        )
        for rule in Rule
    }
    assert {rule for rule, name in named.items() if not name} == {Rule.LOOK_FIRST, Rule.CHECK_PLACE}
