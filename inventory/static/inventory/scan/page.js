// The scan page: camera frames and photos become the one text the form sends.
// Everything here is a help; without it the form works by typing and by photo.

import {
  hasCamera, makeFresh, makeReader, offerTorch, openCamera, readsCodes, serverReader, watch,
} from "./camera.js";
import { judge, normalise } from "./code.js";
import { newEntry } from "./entry.js";
import { waits } from "../queue.js";
import { buzzes, play, tones } from "./sound.js";

const IDLE_MS = 2 * 60 * 1000;

const form = document.getElementById("scan");
const text = document.getElementById("text");
const isFresh = makeFresh();
let sound = null;
let busy = false;
let unanswered = "";
let idle = 0;

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

function send(found) {
  busy = true;
  useIdFor(found);
  text.value = found;
  form.requestSubmit();
}

function tell(result) {
  navigator.vibrate?.(buzzes(form.dataset.mode, result));
  if (sound) play(sound, tones(form.dataset.mode, result));
}

// What got no answer is kept by the queue under its id, but for what can't be: that stays here.
document.body.addEventListener("htmx:afterRequest", (event) => {
  if (event.target !== form) return;
  const isKept = waits(form.elements.entry.value);
  const { status } = event.detail.xhr;
  busy = false;
  if (isKept) stayAt(text.value);
  else if (!status || status >= 500) {
    unanswered = text.value || "a photo";
    tell("refused");
    return;
  }
  unanswered = "";
  form.elements.entry.value = newEntry();
  delete form.dataset.waits;
  text.value = "";
  sayTyped();
  form.elements.photo.value = "";
  text.focus();
  tell(isKept ? "kept" : document.querySelector("#said [data-result]")?.dataset.result);
});

// Overruling sends the crate in question once more.
form.addEventListener("click", (event) => {
  const overruled = event.target.dataset.text;
  if (!overruled) return;
  useIdFor(overruled);
  text.value = overruled;
});

form.elements.photo.addEventListener("change", () => {
  useIdFor(undefined);
  form.requestSubmit();
});

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
  const byServer = serverReader(form.dataset.read, form.elements.csrfmiddlewaretoken.value);
  watch(view, await makeReader(byServer), { isBusy: () => busy, isFresh, send });
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
