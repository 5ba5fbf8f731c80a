// The scan page: camera frames and photos become the one text the form sends.
// Everything here is a help; without it the form works by typing and by photo.

const IDLE_MS = 2 * 60 * 1000;
const FRAME_MS = 300;
const SAME_MS = 5000;
const FRAME_WIDTH = 960;
const REFUSED = 409;
const TONES = { done: [880], here: [660, 880], ask: [440, 440], refused: [220] };
const BUZZES = { done: [60], here: [40, 40, 40], ask: [120, 60, 120], refused: [400] };
// Each mode sounds higher or lower and buzzes longer or shorter than the others.
const PITCH = {
  look: 1, "put-away": 1.15, order: 1.3, market: 1.5, back: 0.85, discard: 0.65, count: 1.75, tag: 2,
};

const form = document.getElementById("scan");
const text = document.getElementById("text");
const lost = document.getElementById("lost");
const seen = new Map();
let sound = null;
let busy = false;
let unanswered = null;

// The check character of ISO/IEC 7064's hybrid system, as inventory/codes/check.py has it.
const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

function isRight(code) {
  let product = ALPHABET.length;
  for (const character of code.slice(0, -1)) {
    const value = ALPHABET.indexOf(character);
    if (value < 0) return false;
    const total = (product + value) % ALPHABET.length || ALPHABET.length;
    product = (2 * total) % (ALPHABET.length + 1);
  }
  return ALPHABET[(ALPHABET.length + 1 - product) % ALPHABET.length] === code.at(-1);
}

function sayTyped() {
  const typed = text.value.toUpperCase().replace(/[\s-]/g, "");
  const code = typed.replaceAll("O", "0").replace(/[IL]/g, "1");
  const say = document.getElementById("typed");
  if (!typed || typed.includes("/")) say.textContent = "";
  else if (code.length < 7) say.textContent = text.dataset.short;
  else say.textContent = code.length === 7 && isRight(code) ? "✓" : `✗ ${text.dataset.wrong}`;
}
text.addEventListener("input", () => {
  useIdFor(text.value);
  sayTyped();
});

function newEntry() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
}

// What got no answer keeps its id: should it have arrived after all, it counts once.
function useIdFor(next) {
  if (unanswered === null || next === unanswered) return;
  unanswered = null;
  form.elements.entry.value = newEntry();
}

function isFresh(found) {
  const now = Date.now();
  const last = seen.get(found) ?? 0;
  seen.set(found, now);
  return now - last > SAME_MS;
}

function send(found) {
  busy = true;
  useIdFor(found);
  text.value = found;
  form.requestSubmit();
}

function tell(result) {
  const pitch = PITCH[form.dataset.mode];
  navigator.vibrate?.((BUZZES[result] ?? []).map((length) => Math.round(length / pitch)));
  if (!sound) return;
  TONES[result]?.forEach((hertz, number) => {
    const tone = sound.createOscillator();
    tone.frequency.value = hertz * pitch;
    tone.connect(sound.destination);
    tone.start(sound.currentTime + number * 0.15);
    tone.stop(sound.currentTime + number * 0.15 + 0.12);
  });
}

// A new id for the next scan, once this one was answered.
document.body.addEventListener("htmx:afterRequest", (event) => {
  if (event.target !== form) return;
  const { successful, xhr } = event.detail;
  const answered = successful || xhr.status === REFUSED;
  busy = false;
  lost.hidden = answered;
  if (!answered) {
    unanswered = text.value;
    tell("refused");
    return;
  }
  unanswered = null;
  form.elements.entry.value = newEntry();
  text.value = "";
  sayTyped();
  form.elements.photo.value = "";
  text.focus();
  tell(document.querySelector("#said [data-result]")?.dataset.result);
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

let idle = 0;
function stayAwake() {
  clearTimeout(idle);
  if (form.dataset.mode !== "look") idle = setTimeout(() => location.assign(form.dataset.idle), IDLE_MS);
}
// Browsers let a page sound only once it was touched or typed at.
["pointerdown", "keydown"].forEach((name) =>
  document.addEventListener(name, () => { sound ??= new AudioContext(); }, { once: true })
);
["pointerdown", "keydown", "htmx:afterRequest"].forEach((name) =>
  document.addEventListener(name, stayAwake)
);
stayAwake();

async function makeReader() {
  const here = globalThis.BarcodeDetector;
  const formats = here ? await here.getSupportedFormats() : [];
  if (!formats.includes("qr_code")) return readByServer;
  const detector = new here({ formats: ["qr_code"] });
  return async (canvas) => (await detector.detect(canvas)).map((code) => code.rawValue);
}

async function readByServer(canvas) {
  const frame = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.6));
  const body = new FormData();
  body.append("photo", frame);
  body.append("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
  const answer = await fetch(form.dataset.read, { method: "POST", body });
  return answer.ok ? (await answer.json()).texts : [];
}

async function watch(view, read) {
  const canvas = document.createElement("canvas");
  canvas.width = FRAME_WIDTH;
  for (;;) {
    await new Promise((done) => setTimeout(done, FRAME_MS));
    if (busy || !view.videoWidth || document.hidden) continue;
    canvas.height = (FRAME_WIDTH * view.videoHeight) / view.videoWidth;
    canvas.getContext("2d").drawImage(view, 0, 0, canvas.width, canvas.height);
    const found = await read(canvas).catch(() => []);
    const fresh = found.find(isFresh);
    if (fresh) send(fresh);
  }
}

async function startCamera() {
  const view = document.getElementById("view");
  const stream = await navigator.mediaDevices.getUserMedia({
    video: { facingMode: "environment", width: { ideal: 1280 }, height: { ideal: 720 } },
  });
  sound ??= new AudioContext();
  view.srcObject = stream;
  view.hidden = false;
  document.getElementById("start-camera").hidden = true;
  await view.play();
  offerTorch(stream.getVideoTracks()[0]);
  watch(view, await makeReader());
}

function offerTorch(track) {
  if (!track.getCapabilities?.().torch) return;
  const torch = document.getElementById("torch");
  let on = false;
  torch.hidden = false;
  torch.addEventListener("click", () => {
    on = !on;
    track.applyConstraints({ advanced: [{ torch: on }] });
  });
}

function sayCan(id, can) {
  const say = document.querySelector(`#${id} b`);
  say.textContent = can ? say.dataset.yes : say.dataset.no;
}
sayCan("can-camera", Boolean(navigator.mediaDevices?.getUserMedia));
sayCan("can-read", "BarcodeDetector" in globalThis);

if (navigator.mediaDevices?.getUserMedia) {
  document.getElementById("camera").hidden = false;
  document.getElementById("no-camera").hidden = true;
  document.getElementById("start-camera").addEventListener("click", startCamera);
}
