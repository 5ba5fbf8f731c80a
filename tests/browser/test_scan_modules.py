"""The scan page's modules, each alone on an empty page of the farm in a real browser."""

import random
import uuid
from itertools import pairwise

import pytest

from inventory.codes import ALPHABET, InvalidCode, draw_code, normalise, read_code
from inventory.views.scan import MODES
from tests.browser.conftest import Run
from tests.codes.test_keyboards import ROWS, typed

RESULTS = ("done", "here", "ask", "refused", "kept", "mind", "away")
# The smallest step an ear is asked to tell: two of twelve equal steps to the octave, a whole tone
# of equal temperament (common practice, no source).
WHOLE_TONE = 2 ** (2 / 12)


def judged(typed: str) -> str:
    """What the scan page is to say of a text that is being typed, by the server's own reading."""
    code = normalise(typed)
    if not code or "/" in code or len(code) > 7:
        return "none"
    try:
        read_code(typed)
    except InvalidCode as refused:
        return "short" if refused.reason == "length" else "wrong"
    return "right"


def test_what_a_tab_ends_is_a_whole_code_or_an_address(run):
    code = draw_code(random.Random(8).choice)
    wrong = code[:-1] + ("0" if code[-1] != "0" else "2")
    whole = [code, code.lower(), f"{code[:3]} {code[3:]}", f"HTTPS://FARM.LOCAL:8443/L/{code}"]
    whole += [f"]Q1http://10.0.0.2/P/{code}", f"HTTPÑ--FARM.LOCALÑ8108-L-{code}"]
    whole += [typed(f"]Q1HTTP://FARM.LOCAL/L/{code}", layout) for layout in ROWS]
    part = ["", code[:6], code[-4:], wrong, code + "0", "http://", "kale"]
    assert run("code", "given.map(m.isWhole)", whole) == [True] * len(whole)
    assert run("code", "given.map(m.isWhole)", part) == [False] * len(part)


def neighbours(code: str) -> list[str]:
    """Every code with one other character, and every one with two characters swapped."""
    wrong = [
        code[:index] + other + code[index + 1 :]
        for index in range(7)
        for other in ALPHABET.replace(code[index], "")
    ]
    swapped = [
        code[:index] + code[index + 1] + code[index] + code[index + 2 :] for index in range(6)
    ]
    return wrong + swapped


def as_people_type(code: str, chance: random.Random) -> list[str]:
    """The code in other clothes, and what is left of it half typed or mistyped."""
    alike = code.replace("0", "O")
    cut = chance.randrange(8)
    return [
        code.lower(),
        alike,
        alike.lower(),
        code.replace("1", "I"),
        code.replace("1", "L"),
        code.replace("1", "l"),
        f" {code[:3]} {code[3:]} ",
        f"{code[:3]}-{code[3:]}",
        f"- {code[:cut].lower()} -- {code[cut:]}",
        code[:cut],
        code + chance.choice(ALPHABET),
        code[:cut] + chance.choice("UÑ?🥬") + code[cut + 1 :],
        f"http://farm.local/L/{code}",
        f"HTTPÑ--FARM.LOCALÑ8108-L-{code}",
        "".join(chance.choice(ALPHABET + "oilOIL -u") for _ in range(7)),
    ]


def differences(run: Run, texts: list[str]) -> list[tuple]:
    answers = run("code", "given.map((typed) => [m.judge(typed), m.normalise(typed)])", texts)
    expected = [[judged(typed), normalise(typed)] for typed in texts]
    return [
        (typed, answer, wanted)
        for typed, answer, wanted in zip(texts, answers, expected, strict=True)
        if answer != wanted
    ]


def test_a_code_and_all_its_neighbours_are_judged_as_the_server_judges_them(run):
    chance = random.Random(32)
    codes = [draw_code(chance.choice) for _ in range(60)]
    texts = [text for code in codes for text in (code, *neighbours(code))]
    assert sum(judged(text) == "right" for text in texts) >= len(codes)
    assert differences(run, texts) == []


def test_whatever_people_type_is_judged_as_the_server_judges_it(run):
    chance = random.Random(7064)
    codes = [draw_code(chance.choice) for _ in range(500)] + ["0000000", "1111111", "ZZZZZZZ"]
    texts = ["", " ", "-", "/"] + [text for code in codes for text in as_people_type(code, chance)]
    assert {judged(text) for text in texts} == {"none", "short", "right", "wrong"}
    assert differences(run, texts) == []


# RFC 9562, appendix A.3: a version 4 UUID and the random bytes it was made of; and section 5.4:
# four bits of version, 0100, and two of variant, 10, whatever the other 122 are.
@pytest.mark.parametrize(
    ("drawn", "entry"),
    [
        ("919108f752d133205bacf847db4148a8", "919108f7-52d1-4320-9bac-f847db4148a8"),
        ("00" * 16, "00000000-0000-4000-8000-000000000000"),
        ("ff" * 16, "ffffffff-ffff-4fff-bfff-ffffffffffff"),
    ],
)
def test_an_entry_is_made_of_random_bytes_as_published(run, drawn, entry):
    assert run("entry", "m.newEntry(new Uint8Array(given))", list(bytes.fromhex(drawn))) == entry


def test_entries_are_all_different_version_4_and_need_no_https(run):
    """RFC 9562, section 5.4."""
    entries = run("entry", "Array.from({ length: 5000 }, () => m.newEntry())")
    read = [uuid.UUID(entry) for entry in entries]
    assert [str(entry) for entry in read] == entries
    assert {(entry.version, entry.variant) for entry in read} == {(4, uuid.RFC_4122)}
    assert len(set(read)) == 5000
    # Of the 122 free bits, each was seen both on and off.
    on, always = 0, (1 << 128) - 1
    for entry in read:
        on, always = on | entry.int, always & entry.int
    assert (on ^ always).bit_count() == 122


def heard(run: Run, name: str) -> dict[tuple[str, str], tuple[float, ...]]:
    pairs = [[mode, result] for mode in MODES for result in RESULTS]
    answers = run("sound", f"given.map(([mode, result]) => m.{name}(mode, result))", pairs)
    return {(mode, result): tuple(a) for (mode, result), a in zip(pairs, answers, strict=True)}


@pytest.mark.parametrize("name", ["tones", "buzzes"])
def test_each_result_in_each_mode_has_a_sound_and_a_buzz_of_its_own(run, name):
    told = heard(run, name)
    assert all(one and all(figure > 0 for figure in one) for one in told.values())
    assert len(set(told.values())) == len(MODES) * len(RESULTS)


def test_results_of_a_mode_are_told_apart_by_the_hand(run):
    """What vibrate takes is buzz, pause, buzz: only every other figure is felt."""
    felt = heard(run, "buzzes")
    for mode in MODES:
        assert len({felt[mode, result][::2] for result in RESULTS}) == len(RESULTS)


def test_of_several_labels_the_gravest_is_heard(run):
    order = ["refused", "ask", "mind", "done", "here"]
    told = run("sound", "given.map((_, n) => m.gravest(given.slice(n).reverse()))", order)
    assert told == order
    assert run("sound", "m.gravest([]) ?? null") is None


@pytest.mark.parametrize("result", RESULTS)
def test_modes_sound_at_least_a_whole_tone_apart(run, result):
    told = heard(run, "tones")
    heights = sorted(told[mode, result][0] for mode in MODES)
    assert min(high / low for low, high in pairwise(heights)) >= WHOLE_TONE


def test_what_said_nothing_is_neither_heard_nor_felt(run):
    assert run("sound", "[m.tones('look', undefined), m.buzzes('look', undefined)]") == [[], []]


# Counts how often the sound changes sign in each tone: twice a wave, for 0.12 s.
LISTEN = """(async () => {
  const sound = new OfflineAudioContext(1, 48000, 48000);
  m.play(sound, given);
  const heard = (await sound.startRendering()).getChannelData(0);
  const changes = (from, to) => heard.slice(from * 48000, to * 48000)
    .filter((value) => value !== 0)
    .filter((value, n, all) => n && value > 0 !== all[n - 1] > 0).length;
  return [changes(0, 0.12), changes(0.12, 0.15), changes(0.15, 0.27), changes(0.28, 1)];
})()"""


def test_tones_are_played_one_after_the_other_at_their_height(run):
    first, between, second, after = run("sound", LISTEN, [660, 880])
    assert abs(first - 2 * 660 * 0.12) <= 2
    assert abs(second - 2 * 880 * 0.12) <= 2
    assert between <= 1
    assert after == 0


def test_a_label_in_sight_is_one_scan_until_it_was_away_for_five_seconds(run):
    looks = [[0, "A"], [300, "A"], [400, "B"], [5200, "A"], [10_200, "A"], [15_201, "A"]]
    look = """(() => {
      let now = 0;
      const isFresh = m.makeFresh(() => 1e12 + now);
      return given.map(([at, label]) => { now = at; return isFresh(label); });
    })()"""
    assert run("camera", look, looks) == [True, False, True, False, False, True]


# A view that has a picture from the second look on, a reader that sees the next labels of a list
# in each frame, and a form that is busy for one look after each label it was sent.
FILM = """(async () => {
  const view = Object.assign(document.createElement("canvas"), { videoHeight: 6 });
  const sent = [], shapes = new Set();
  let busy = false, frame = 0, looks = 0;
  await new Promise((done, fail) => m.watch(view, async (canvas) => {
    shapes.add(`${canvas.width}x${canvas.height}`);
    if (frame === given.length) done();
    const seen = given[frame++] ?? [];
    if (seen === "fault") throw new Error("unreadable");
    return seen;
  }, {
    isBusy: () => {
      const was = busy;
      busy = false;
      view.videoWidth = looks++ ? 8 : 0;
      return was;
    },
    isFresh: m.makeFresh(),
    send: (found) => { sent.push([found, frame, looks]); busy = true; },
  }).catch(fail));
  return { sent, shapes: [...shapes] };
})()"""


def test_frames_are_read_while_nothing_is_being_sent_and_each_label_is_sent_once(run):
    frames = [[], ["A"], ["A"], "fault", ["A", "B"], ["B", "C"]]
    seen = run("camera", FILM, frames)
    assert seen["sent"] == [["A", 2, 3], ["B", 5, 7], ["C", 6, 9]]
    assert seen["shapes"] == ["1280x960"]


READERS = """(async () => {
  const reader = (formats) => {
    globalThis.BarcodeDetector = formats && class {
      static async getSupportedFormats() { return formats; }
      async detect() { return [{ rawValue: "7K" }, { rawValue: "3M" }]; }
    };
    return m.makeReader(async () => ["by the server"]);
  };
  const read = [undefined, ["ean_13"], ["ean_13", "qr_code"]].map(
    async (formats) => (await reader(formats))());
  return Promise.all(read);
})()"""


def test_the_phone_reads_itself_only_where_it_reads_qr_codes(run):
    assert run("camera", READERS) == [["by the server"], ["by the server"], ["7K", "3M"]]


SENT = """(async () => {
  const asked = [];
  globalThis.fetch = async (address, { method, body }) => {
    const photo = body.get("photo");
    asked.push([address, method, body.get("csrfmiddlewaretoken"), photo.type, photo.size > 0]);
    return { json: async () => ({ texts: ["7K"] }), headers: new Headers(), ...given.shift() };
  };
  const canvas = Object.assign(document.createElement("canvas"), { width: 9, height: 6 });
  const told = [], tokens = [];
  const health = Object.fromEntries(["heard", "missed", "signedOut"].map(
    (name) => [name, () => told.push(name)]));
  const token = { now: () => "token", renew: (fresh) => tokens.push(fresh) };
  const read = m.serverReader("/scan/read", token, health);
  const texts = [];
  while (given.length) texts.push(await read(canvas));
  return { texts, asked, told, tokens };
})()"""


LOOKS = """(async () => {
  const looks = [];
  globalThis.fetch = async (address, { body }) => {
    looks.push(body.get("thorough"));
    return { ok: true, json: async () => ({ texts: [] }) };
  };
  const canvas = Object.assign(document.createElement("canvas"), { width: 9, height: 6 });
  const health = { heard() {}, missed() {}, signedOut() {} };
  const read = m.serverReader("/scan/read", { now: () => "token" }, health);
  for (let frame = 0; frame < 7; frame++) await read(canvas);
  return looks;
})()"""


def test_every_third_frame_is_to_be_looked_at_thoroughly(run):
    assert run("camera", LOOKS) == [None, None, "1", None, None, "1", None]


def test_a_frame_goes_to_the_farms_machine_and_a_refusal_reads_nothing(run):
    sent = run("camera", SENT, [{"ok": True}, {"ok": False, "status": 400}])
    assert sent["texts"] == [["7K"], []]
    assert sent["asked"] == [["/scan/read", "POST", "token", "image/jpeg", True]] * 2
    assert sent["told"] == ["heard", "heard"]


@pytest.mark.parametrize(
    ("answer", "told"),
    [
        ({"ok": True, "redirected": True}, "signedOut"),
        ({"ok": False, "status": 403}, "signedOut"),
        ({"ok": False, "status": 502}, "missed"),
        ({"ok": True, "json": None}, "missed"),
    ],
)
def test_an_answer_that_reads_nothing_is_told(run, answer, told):
    sent = run("camera", SENT, [answer])
    assert (sent["texts"], sent["told"]) == ([[]], [told])


STALE = SENT.replace("new Headers()", 'new Headers({ "Coldroom-Token": "fresh" })')


def test_a_page_open_too_long_takes_the_fresh_token_and_reads_on(run):
    sent = run("camera", STALE, [{"ok": False, "status": 403}])
    assert (sent["tokens"], sent["told"]) == (["fresh"], ["heard"])


HUNG = """(async () => {
  globalThis.fetch = (_, { signal }) => new Promise((_, fail) => {
    signal.addEventListener("abort", () => fail(signal.reason));
  });
  const canvas = Object.assign(document.createElement("canvas"), { width: 9, height: 6 });
  const began = performance.now(), told = [];
  const health = { missed: () => told.push("missed") };
  const read = m.serverReader("/scan/read", { now: () => "" }, health);
  return [await read(canvas), told, performance.now() - began];
})()"""


def test_a_frame_is_not_waited_for_longer_than_three_seconds(run):
    texts, told, waited_ms = run("camera", HUNG)
    assert (texts, told) == ([], ["missed"])
    assert waited_ms >= 2990


HEALTH = """(() => {
  const told = [];
  const health = m.makeHealth((state) => told.push(state));
  return given.map((name) => { health[name](); return [told.splice(0), health.isAway()]; });
})()"""


@pytest.mark.parametrize(
    ("happens", "told"),
    [
        (["missed", "heard", "missed", "heard"], [[]] * 4),
        (["missed", "missed", "missed", "heard"], [[], ["away"], [], ["well"]]),
        (["slow", "missed", "heard", "slow"], [["away"], [], ["well"], ["away"]]),
        (["signedOut", "signedOut", "missed", "heard"], [["signed-out"], [], [], ["well"]]),
        (["slow", "signedOut", "missed", "missed"], [["away"], ["signed-out"], [], ["away"]]),
    ],
)
def test_two_misses_in_a_row_are_told_once_and_so_is_the_next_answer(run, happens, told):
    heard = run("health", HEALTH, happens)
    assert [said for said, _away in heard] == told
    states = [state for said in told for state in said] or ["well"]
    assert heard[-1][1] == (states[-1] == "away")


TORCH = """(() => {
  const light = (can) => {
    const asked = [];
    const torch = Object.assign(document.createElement("button"), { hidden: true });
    m.offerTorch({
      getCapabilities: can && (() => can),
      applyConstraints: (wanted) => asked.push(wanted.advanced[0].torch),
    }, torch);
    for (let tap = 0; tap < 3; tap++) torch.click();
    return [torch.hidden, asked];
  };
  return [light(undefined), light({}), light({ torch: true })];
})()"""


def test_a_lamp_is_offered_where_there_is_one_and_goes_on_and_off(run):
    assert run("camera", TORCH) == [[True, []], [True, []], [False, [True, False, True]]]
