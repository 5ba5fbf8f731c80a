// The scan page: camera frames and photos become the one text the form sends.
// Everything here is a help; without it the form works by typing and by photo.

import {
  hasCamera, makeFresh, makeReader, offerTorch, openCamera, readsCodes, serverReader, watch,
} from "./camera.js";
import { isWhole, judge, normalise } from "./code.js";
import { newEntry } from "./entry.js";
import { makeHealth, stopAfter } from "./health.js";
import { keep, useToken, waits } from "../queue.js";
import { buzzes, gravest, play, tones } from "./sound.js";

const IDLE_MS = 2 * 60 * 1000;
const SLOW_MS = 3000;
const LOOK_AGAIN_MS = 3000;
// Where a key that is typed belongs there and not into the box.
const TYPED_INTO = "select, textarea, input:not([type=file], [type=radio], [type=checkbox])";

const form = document.getElementById("scan");
const text = document.getElementById("text");
const { photo } = form.elements;
const isFresh = makeFresh();
const health = makeHealth(sayHealth);
let sound = null;
let unanswered = "";
let idle = 0;
let framesTell = false;

function sayTyped() {
  const { short, wrong } = text.dataset;
  const words = { none: "", short, right: "✓", wrong: `✗ ${wrong}` };
  document.getElementById("typed").textContent = words[judge(text.value)];
}
text.addEventListener("input", () => {
  useIdFor(text.value);
  sayTyped();
});

// What got no answer and is not kept has its id for as long as it stands there: should it have
// arrived after all, it counts once.
function useIdFor(next) {
  if (!unanswered || next === unanswered) return;
  unanswered = "";
  form.elements.entry.value = newEntry();
}

// Without an answer the page knows by itself where the next crates stand, if that was a place.
function stayAt(scanned) {
  const places = JSON.parse(form.dataset.places ?? "{}");
  const code = normalise(scanned.split("/").at(-1));
  for (const old of document.querySelectorAll("#said .said")) old.remove();
  if (!(code in places)) return;
  form.elements.here.value = code;
  const said = document.createElement("p");
  said.className = "said here";
  said.textContent = `→ ${places[code]}`;
  document.getElementById("said").append(said);
}

// A page that is asked for again, as after a sign-in, still knows the place.
function rememberPlace() {
  const here = form.elements.here?.value;
  if (here) history.replaceState(history.state, "", `?here=${here}`);
}

function tell(result) {
  navigator.vibrate?.(buzzes(form.dataset.mode, result));
  if (sound) play(sound, tones(form.dataset.mode, result));
}

// ---- one scan after the other, however fast they come

// What waits for the answer to the one before it, and the one that is under way.
const line = [];
let sent = null;

function take(button) {
  return { text: text.value, files: [...photo.files], button: button?.name ? button : null };
}

function clear() {
  text.value = "";
  photo.value = "";
  sayTyped();
}

function put(scan) {
  const files = new DataTransfer();
  for (const file of scan.files) files.items.add(file);
  photo.files = files.files;
  text.value = scan.text;
  if (scan.entry) form.elements.entry.value = scan.entry;
  sayTyped();
}

function sayLine() {
  const { words } = document.getElementById("line").dataset;
  const open = sent?.isSlow ? [sent, ...line] : line;
  const what = open.map((scan) => scan.text.split("/").at(-1) || "…").join(", ");
  document.getElementById("line").textContent = what && `${words} ${what}`;
}

// What is typed in the box meanwhile stays there.
function submit(scan) {
  const typed = take();
  put(scan);
  if (scan.button) tapAgain(scan.button);
  else form.requestSubmit();
  if (sent) put(typed);
}

// The answer to an earlier scan may have taken the button away with its question.
function tapAgain(button) {
  const isGone = !button.isConnected;
  if (isGone) form.append(Object.assign(button, { hidden: true }));
  button.click();
  if (isGone) button.remove();
}

function send(found) {
  if (unanswered) clear();
  useIdFor(found);
  submit({ text: found, files: [] });
}

function sendNext() {
  sent = null;
  if (line.length) submit(line.shift());
  sayLine();
}

// Before htmx hears of it: it would keep the last one only.
document.addEventListener("submit", (event) => {
  if (event.target !== form || !sent) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  const scan = take(event.submitter);
  clear();
  if (scan.text || scan.files.length || scan.button) line.push(scan);
  sayLine();
}, true);

document.body.addEventListener("htmx:beforeRequest", ({ target, detail }) => {
  if (target !== form) return;
  sent = { ...take(), entry: detail.requestConfig.formData.get("entry") };
  // A photo takes its time.
  if (!sent.files.length) sent.slow = setTimeout(sayIsSlow, SLOW_MS);
  unanswered = "";
  form.elements.entry.value = newEntry();
  clear();
});

function sayIsSlow() {
  sent.isSlow = true;
  sayLine();
  health.slow();
}

// What can't be kept stays here under its id, and what came after it waits.
function putBack(scan) {
  sent = null;
  if (text.value) line.unshift(scan);
  else {
    put(scan);
    unanswered = scan.text || "a photo";
    text.select();
  }
  sayLine();
}

// What got no answer is kept by the queue under its id, but for what can't be.
document.body.addEventListener("htmx:afterRequest", ({ target, detail: { xhr } }) => {
  if (target !== form) return;
  clearTimeout(sent.slow);
  if (xhr.status) health.heard();
  else health.missed();
  const isKept = waits(sent.entry);
  if (isKept) stayAt(sent.text);
  else if (!xhr.status || xhr.status >= 500) {
    putBack(sent);
    tell("refused");
    return;
  }
  delete form.dataset.waits;
  rememberPlace();
  text.focus();
  const results = [...document.querySelectorAll("#said [data-result]")];
  tell(isKept ? "kept" : gravest(results.map((said) => said.dataset.result)));
  // htmx takes the next one when it is done with this.
  setTimeout(sendNext);
});

// What waits when the page is left is kept like what got no answer.
addEventListener("pagehide", () => {
  for (const scan of line.splice(0)) {
    put(scan);
    form.elements.entry.value = newEntry();
    keep(form, form.getAttribute("hx-post"));
    stayAt(scan.text);
  }
});

// Overruling sends the crate in question once more.
form.addEventListener("click", (event) => {
  const overruled = event.target.dataset.text;
  if (!overruled) return;
  useIdFor(overruled);
  text.value = overruled;
});

photo.addEventListener("change", () => {
  useIdFor(undefined);
  form.requestSubmit();
});

// ---- a scanner that types

text.addEventListener("keydown", (event) => {
  const { key, shiftKey, ctrlKey, altKey, metaKey } = event;
  // Some end in two Enters.
  if (key === "Enter" && !text.value) event.preventDefault();
  if (key !== "Tab" || shiftKey || ctrlKey || altKey || metaKey || !isWhole(text.value)) return;
  event.preventDefault();
  form.requestSubmit();
});

// It types wherever one tapped last. Where a caution stands on top, the page stays there.
if (!text.autofocus) text.focus({ preventScroll: true });
document.addEventListener("keydown", ({ key, target, ctrlKey, altKey, metaKey }) => {
  if (key.length !== 1 || key === " " || ctrlKey || altKey || metaKey) return;
  if (!target.matches(TYPED_INTO)) text.focus();
});

// In a list of choices it would choose. One that is gone through by keys keeps the keys.
for (const list of form.querySelectorAll("select")) {
  let byHand = false;
  list.addEventListener("pointerdown", () => { byHand = true; });
  list.addEventListener("keydown", () => { byHand = false; });
  list.addEventListener("change", () => { if (byHand) list.blur(); });
}

// ---- the farm's machine

function sayHealth(state) {
  for (const name of ["away", "signed-out"]) {
    document.getElementById(name).hidden = state !== name;
  }
  const link = document.querySelector("#signed-out a");
  const back = encodeURIComponent(location.pathname + location.search);
  link.href = `${link.pathname}?next=${back}`;
  if (state !== "well") tell("away");
  if (state === "away" && !framesTell) setTimeout(lookAgain, LOOK_AGAIN_MS);
}

// Where no frames go out, only asking tells that it is back.
async function lookAgain() {
  if (!health.isAway()) return;
  const { signal, end } = stopAfter(LOOK_AGAIN_MS);
  const { there } = document.getElementById("queue").dataset;
  const answer = await fetch(there, { cache: "no-store", signal }).catch(() => null);
  end();
  if (answer) health.heard();
  else setTimeout(lookAgain, LOOK_AGAIN_MS);
}

function stayAwake() {
  clearTimeout(idle);
  if (form.dataset.mode === "look") return;
  idle = setTimeout(() => location.assign(form.dataset.idle), IDLE_MS);
}
// Browsers let a page sound only once it was touched or typed at.
["pointerdown", "keydown"].forEach((name) =>
  document.addEventListener(name, () => { sound ??= new AudioContext(); }, { once: true })
);
["pointerdown", "keydown", "htmx:afterRequest"].forEach((name) =>
  document.addEventListener(name, stayAwake)
);
stayAwake();

async function startCamera() {
  const view = document.getElementById("view");
  const stream = await openCamera();
  sound ??= new AudioContext();
  view.srcObject = stream;
  view.hidden = false;
  document.getElementById("start-camera").hidden = true;
  await view.play();
  offerTorch(stream.getVideoTracks()[0], document.getElementById("torch"));
  const token = { now: () => form.elements.csrfmiddlewaretoken.value, renew: useToken };
  const byServer = serverReader(form.dataset.read, token, health);
  const read = await makeReader(byServer);
  framesTell = read === byServer;
  watch(view, read, { isBusy: () => Boolean(sent), isFresh, send });
}

function sayCan(id, can) {
  const say = document.querySelector(`#${id} b`);
  say.textContent = can ? say.dataset.yes : say.dataset.no;
}
sayCan("can-camera", hasCamera());
sayCan("can-read", readsCodes());

if (hasCamera()) {
  document.getElementById("camera").hidden = false;
  document.getElementById("no-camera").hidden = true;
  document.getElementById("start-camera").addEventListener("click", startCamera);
}
