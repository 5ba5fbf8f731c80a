"""The parts of queue.js that need no page, in a real browser."""

import pytest

from tests.browser.conftest import Run

ITEM = '{ id, path: "/x", fields: [["entry", id]], words: `w ${id}`, person: "1" }'
# A queue with a store in memory, a clock, timers that are only noted, and answers from a list.
QUEUE = f"""
  const item = (id, more) => ({{ ...{ITEM.replace("id,", "id: id,", 1)}, ...more }});
  const stored = [], posts = [], timers = [], told = [];
  let clock = 1000;
  const answers = [...given];
  const make = (items = [], person = "1") => new m.Queue({{
    person, now: () => clock, later: (act, ms) => timers.push(ms),
    store: {{ load: async () => items, save: (all) => stored.push(JSON.stringify(all)) }},
    post: async (one, waited, token) => {{
      posts.push([one.id, waited, token ?? ""]);
      return answers.shift() ?? {{ kind: "none" }};
    }},
    tell: (queue) => told.push(queue.list.items.map((one) => one.state).join()),
  }});
  const queue = make();
"""


@pytest.fixture
def queue(run: Run):
    def call(steps: str, *answers: dict):
        return run("../queue", f"(async () => {{ {QUEUE} {steps} }})()", list(answers))

    return call


def answer(kind: str, **more) -> dict:
    return {"kind": kind, **more}


def test_a_list_holds_each_id_once_and_names_the_oldest_of_a_person(run: Run):
    assert run("../queue", """(() => {
        const list = new m.WaitingList();
        const one = (id, person) => ({ id, person });
        const added = [one("a", "1"), one("b", "2"), one("a", "1"), one("c", "1")]
          .map((item) => list.add(item));
        const sending = list.next("1") ?? null;
        list.takeUp();
        const first = list.next("1").id;
        list.answered("a");
        list.refused("c", "no");
        list.lost("never added");
        return [added, sending, first, list.next("1") ?? null, list.next("2").id,
          list.in("refused").map((item) => item.said)];
    })()""") == [[True, True, False, True], None, "a", None, "b", ["no"]]  # fmt: skip


def test_words_are_filled_with_what_was_typed_and_name_all_that_waits(run: Run):
    filled = run("../queue", "m.fill('Kale, {crates} × {quantity}{no}', { crates: '12' })")
    assert filled == "Kale, 12 × "
    items = [{"words": "kale TS1 5SR2"}, {"words": "beet"}]
    named = run("../queue", "m.waitingWords('{n} not sent: {what}', given)", items)
    assert named == "2 not sent: kale TS1 5SR2 · beet"


def test_pauses_grow_to_a_minute(run: Run):
    grow = "[1, 2, 3, 4, 5, 6].reduce((all) => [...all, m.nextPause(all.at(-1))], [3000])"
    pauses = run("../queue", grow)
    assert pauses == [3000, 6000, 12_000, 24_000, 48_000, 60_000, 60_000]


@pytest.mark.parametrize(
    ("status", "headers", "html", "kind", "said"),
    [
        (0, {}, "", "none", None),
        (502, {}, "<h1>Bad gateway</h1>", "none", None),
        (403, {"Coldroom-Token": "t"}, "", "stale", None),
        (403, {}, "<h1>No</h1><p class=problem>Only the owner.</p>", "refused", "Only the owner."),
        (204, {"Coldroom-To": "/done/1"}, "", "done", None),
        (204, {"Coldroom-To": "/sign-in?next=/"}, "", "who", None),
        (200, {"HX-Redirect": "/who"}, "", "who", None),
        (422, {}, "<p class=problem>Look</p><p class=error>Too much.</p>", "refused", "Too much."),
        (200, {}, "<h1>Scan</h1><i class=said data-result=done><b class=big>✓  Kale</b></i>",
         "done", "✓ Kale"),
        (200, {}, "<i class=said data-result=ask><b class=big>? Older</b></i>", "refused",
         "? Older"),
        (200, {}, "<h1>3 new</h1>", "done", "3 new"),
    ],
)  # fmt: skip
def test_what_an_answer_means(run: Run, status, headers, html, kind, said):
    read = """(({ status, headers, html }) => {
        const header = (name) => headers[name] ?? null;
        const who = (path) => path.startsWith("/sign-in") || path === "/who";
        const { kind, said = null } = m.readAnswer({ status, header, html }, who);
        return [kind, said];
    })(given)"""
    given = {"status": status, "headers": headers, "html": html}
    assert run("../queue", read, given) == [kind, said]


def test_what_gets_an_answer_leaves_the_list_and_was_stored_before_it_was_sent(queue):
    steps = """
      queue.begin(item("a"));
      await null;
      const before = JSON.parse(stored[0]).map((one) => [one.id, one.state]);
      await queue.send("a");
      await null;
      return [before, posts, stored.at(-1), timers];
    """
    assert queue(steps, answer("done", to="/done/a")) == [
        [["a", "sending"]],
        [["a", 0, ""]],
        "[]",
        [],
    ]


def test_what_gets_none_waits_longer_each_time_and_says_for_how_long_it_waited(queue):
    steps = """
      queue.begin(item("a"));
      await queue.send("a");
      clock += 9_500;
      await queue.goOn();
      clock += 60_000;
      await queue.goOn();
      return [posts, timers, queue.list.items.length, queue.sent.map((one) => one.id)];
    """
    none = answer("none")
    assert queue(steps, none, none, answer("done")) == [
        [["a", 0, ""], ["a", 9, ""], ["a", 69, ""]],
        [3000, 6000],
        0,
        ["a"],
    ]


def test_what_waits_goes_one_by_one_and_stops_at_the_first_without_an_answer(queue):
    steps = """
      for (const id of ["a", "b", "c"]) queue.begin(item(id));
      queue.list.takeUp();
      await queue.goOn();
      return [posts.map(([id]) => id), queue.list.items.map((one) => [one.id, one.state])];
    """
    refused = answer("refused", said="It is gone.")
    assert queue(steps, answer("done"), refused) == [
        ["a", "b", "c"],
        [["b", "refused"], ["c", "waiting"]],
    ]


def test_a_stale_token_is_changed_and_sent_again_at_once(queue):
    steps = """
      queue.begin(item("a"));
      const { kind } = await queue.send("a");
      return [kind, posts, queue.list.items];
    """
    assert queue(steps, answer("stale", token="t"), answer("done")) == [
        "done",
        [["a", 0, ""], ["a", 0, "t"]],
        [],
    ]


def test_what_was_left_unanswered_on_another_page_is_taken_up_for_its_person(queue):
    steps = """
      const other = make([item("a", { state: "sending", person: "2" }),
        item("b", { state: "sending", tapped: 0 }), item("c", { state: "refused" })]);
      await other.load();
      return [posts, other.list.items.map((one) => [one.id, one.state])];
    """
    assert queue(steps, answer("done")) == [
        [["b", 1, ""]],
        [["a", "waiting"], ["c", "refused"]],
    ]


def test_without_a_sign_in_nothing_more_is_tried(queue):
    steps = """
      queue.begin(item("a"));
      await queue.send("a");
      await queue.goOn();
      return [posts.length, queue.who, queue.list.items[0].state];
    """
    assert queue(steps, answer("who", to="/who")) == [1, "/who", "waiting"]


def test_a_phone_that_stores_nothing_keeps_it_while_the_page_is_open(queue):
    steps = """
      queue.store = { load: () => { throw new Error("full"); },
        save: () => { throw new Error("full"); } };
      await queue.load();
      queue.begin(item("a"));
      await null; await null;
      return queue.list.items.length;
    """
    assert queue(steps) == 1


def test_a_tabs_store_gives_back_what_it_was_given(run: Run):
    assert run("../queue", """(() => {
        const store = m.tabStore("q");
        const empty = store.load();
        store.save([{ id: "a" }]);
        return [empty, m.tabStore("q").load(), m.tabStore("other").load()];
    })()""") == [[], [{"id": "a"}], []]  # fmt: skip
