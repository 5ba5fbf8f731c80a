// The camera: frames become texts, read by the phone itself or by the farm's machine.

import { stopAfter } from "./health.js";

const FRAME_MS = 300;
const SAME_MS = 5000;
const ANSWER_MS = 3000;
const FRAME_WIDTH = 1280;
// Of so many frames the farm's machine looks at one thoroughly: that costs, and most show nothing.
const THOROUGH_EVERY = 3;

export function hasCamera() {
  return Boolean(navigator.mediaDevices?.getUserMedia);
}

export function readsCodes() {
  return "BarcodeDetector" in globalThis;
}

export function openCamera() {
  return navigator.mediaDevices.getUserMedia({
    video: { facingMode: "environment", width: { ideal: 1280 }, height: { ideal: 720 } },
  });
}

// The phone's own reader where it has one for QR codes, otherwise the one given.
export async function makeReader(otherwise) {
  const here = globalThis.BarcodeDetector;
  const formats = here ? await here.getSupportedFormats() : [];
  if (!formats.includes("qr_code")) return otherwise;
  const detector = new here({ formats: ["qr_code"] });
  return async (canvas) => (await detector.detect(canvas)).map((code) => code.rawValue);
}

// token: `now` gives it, `renew` takes a fresh one. health hears of every frame how it went.
export function serverReader(address, token, health) {
  let frames = 0;
  return async (canvas) => {
    const frame = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.6));
    const body = new FormData();
    body.append("photo", frame);
    body.append("csrfmiddlewaretoken", token.now());
    frames += 1;
    if (frames % THOROUGH_EVERY === 0) body.append("thorough", "1");
    const { signal, end } = stopAfter(ANSWER_MS);
    try {
      return await texts(await fetch(address, { method: "POST", body, signal }), token, health);
    } catch {
      health.missed();
      return [];
    } finally {
      end();
    }
  };
}

// Whoever was signed out is led to another page, or refused where the phone lost its token too;
// 400 is the answer to what is no picture.
async function texts(answer, token, health) {
  const fresh = answer.headers.get("Coldroom-Token");
  if (answer.redirected || (answer.status === 403 && !fresh)) {
    health.signedOut();
    return [];
  }
  if (fresh) token.renew(fresh);
  if (!answer.ok && !fresh && answer.status !== 400) throw new Error(answer.status);
  const found = answer.ok ? (await answer.json()).texts : [];
  health.heard();
  return found;
}

// A label held before the camera is one scan, however many frames show it.
export function makeFresh(now = Date.now) {
  const seen = new Map();
  return (found) => {
    const moment = now();
    const last = seen.get(found) ?? 0;
    seen.set(found, moment);
    return moment - last > SAME_MS;
  };
}

// Reads frame after frame for as long as the page lives.
export async function watch(view, read, { isBusy, isFresh, send }) {
  const canvas = document.createElement("canvas");
  canvas.width = FRAME_WIDTH;
  for (;;) {
    await new Promise((done) => setTimeout(done, FRAME_MS));
    if (isBusy() || !view.videoWidth || document.hidden) continue;
    canvas.height = (FRAME_WIDTH * view.videoHeight) / view.videoWidth;
    canvas.getContext("2d").drawImage(view, 0, 0, canvas.width, canvas.height);
    const found = await read(canvas).catch(() => []);
    const fresh = found.find(isFresh);
    if (fresh) send(fresh);
  }
}

export function offerTorch(track, torch) {
  if (!track.getCapabilities?.().torch) return;
  let on = false;
  torch.hidden = false;
  torch.addEventListener("click", () => {
    on = !on;
    track.applyConstraints({ advanced: [{ torch: on }] });
  });
}
