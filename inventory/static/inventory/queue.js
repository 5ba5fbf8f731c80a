// What got no answer: kept under its id, named at the top of every page, sent again by itself.
//
// Once: what is sent is frozen at the first tap and goes out again byte for byte under the same id
// (the form's hidden `entry`), so the server gives its first answer again, should it have arrived.
//
// When: the true time is that of the tap. It can't go into the form: what was sent first would
// then differ from what is sent again, and a phone's clock may be wrong. So a header beside the
// form says for how many seconds it waited, by one and the same clock; the server counts back.
//
// Where: in the tab's session storage. It outlives a change of page and a reload, and no other tab
// sends the same. It ends with the tab, as it must until a phone that is shared keeps things for
// longer: a store is anything with `load` and `save`, which may return promises.
//
// Never kept: what carries no id, passwords and PINs, files, what only asks, and what is about
// whatever stands there at that moment (`data-unkept`: the end of a round, new tags). For those
// the machine is first asked whether it is there, and the page stays as it is if it is not.

import { newEntry } from "./scan/entry.js";

const ANSWER_MS = 8000;
const FILE_MS = 60_000;
// For so long a tap is no second one, while the browser goes to the next page.
const LEAVING_MS = 2000;
const FIRST_PAUSE_MS = 3000;
const LONGEST_PAUSE_MS = 60_000;
const LONGEST_WORDS = 90;
const MOST_SENT = 2;

export class WaitingList {
  constructor(items = []) {
    this.items = items;
  }

  find(id) {
    return this.items.find((item) => item.id === id);
  }

  // False where it stands here already: a second tap is no second entry.
  add(item) {
    if (this.find(item.id)) return false;
    this.items.push({ ...item, state: "sending" });
    return true;
  }

  answered(id) {
    this.items = this.items.filter((item) => item.id !== id);
  }

  lost(id) {
    this.put(id, { state: "waiting" });
  }

  refused(id, said) {
    this.put(id, { state: "refused", said });
  }

  put(id, changes) {
    const item = this.find(id);
    if (item) Object.assign(item, changes);
  }

  // What a page that was left was still sending has no answer either.
  takeUp() {
    for (const item of this.items) if (item.state === "sending") item.state = "waiting";
  }

  in(state) {
    return this.items.filter((item) => item.state === state);
  }

  // The oldest that waits for an answer to this person.
  next(person) {
    return this.in("waiting").find((item) => item.person === person);
  }
}

// "Kale {crates}" with what was typed.
export function fill(words, values) {
  return words.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? "");
}

export function waitingWords(words, items) {
  return fill(words, { n: items.length, what: items.map((item) => item.words).join(" · ") });
}

export function nextPause(pause) {
  return Math.min(pause * 2, LONGEST_PAUSE_MS);
}

// Where an answer says what became of it, the nearest to it first.
const SAID = [".said .big", ".error", ".problem", "h1"];

export function tabStore(key, storage = globalThis.sessionStorage) {
  return {
    load: () => JSON.parse(storage.getItem(key) ?? "[]"),
    save: (items) => storage.setItem(key, JSON.stringify(items)),
  };
}

// What an answer means. "none": there was none that says whether it is written.
export function readAnswer({ status, header, html = "" }, isWho) {
  if (!status || status >= 500) return { kind: "none" };
  if (header("Coldroom-Token")) return { kind: "stale", token: header("Coldroom-Token") };
  const to = header("Coldroom-To") ?? header("HX-Redirect");
  if (to) return { kind: isWho(to) ? "who" : "done", to };
  const page = new DOMParser().parseFromString(html, "text/html");
  const result = page.querySelector("[data-result]")?.dataset.result;
  const refused = status >= 400 || result === "refused" || result === "ask";
  const said = SAID.map((where) => page.querySelector(where)).find(Boolean);
  const mind = squeeze(page.querySelector(".said .mind"));
  return { kind: refused ? "refused" : "done", said: `${squeeze(said)} ${mind}`.trim(), mind, html };
}

// Sends what waits, one after the other, and tells what became of it.
export class Queue {
  // later: calls a function after so many ms.
  constructor({ store, post, tell, person, now = () => Date.now(), later }) {
    Object.assign(this, { store, post, tell, person, now });
    this.later = later ?? ((act, ms) => setTimeout(act, ms));
    this.list = new WaitingList();
    this.sent = [];
    this.pause = FIRST_PAUSE_MS;
  }

  async load() {
    this.list = new WaitingList(await Promise.resolve().then(this.store.load).catch(() => []));
    this.list.takeUp();
    this.who = "";
    this.changed();
    await this.goOn();
  }

  // A phone that keeps nothing still keeps it for as long as the page is open.
  changed() {
    Promise.resolve(this.list.items).then(this.store.save).catch(() => {});
    this.tell(this);
  }

  begin(item) {
    const added = this.list.add({ ...item, person: this.person, tapped: this.now() });
    if (added) this.changed();
    return added;
  }

  // isShown: a refusal is shown in the form it is about, so that the list need not tell it.
  async send(id, isShown = () => false) {
    const item = this.list.find(id);
    const waited = Math.max(0, Math.floor((this.now() - item.tapped) / 1000));
    let answer = await this.post(item, waited);
    if (answer.kind === "stale") answer = await this.post(item, waited, answer.token);
    this.settle(id, isShown(answer) ? { kind: "done" } : answer);
    return answer;
  }

  // What an answer leaves of one in the list; what is refused stays until somebody has read it.
  settle(id, answer) {
    if (answer.kind === "done") this.list.answered(id);
    else if (answer.kind === "refused") this.list.refused(id, answer.said);
    else this.list.lost(id);
    if (answer.kind === "who") this.who = answer.to;
    if (answer.kind === "none" || answer.kind === "stale") this.wait();
    else this.pause = FIRST_PAUSE_MS;
    this.changed();
  }

  wait() {
    clearTimeout(this.timer);
    this.timer = this.later(() => this.goOn(), this.pause);
    this.pause = nextPause(this.pause);
  }

  // By itself: on a new page, when the signal is back, after a pause, after another answer.
  async goOn() {
    if (this.going || this.who) return;
    this.going = true;
    try {
      for (let item = this.list.next(this.person); item; item = this.list.next(this.person)) {
        const answer = await this.send(item.id);
        if (!["done", "refused"].includes(answer.kind)) break;
        if (answer.kind === "done") this.sent.push({ ...item, ...answer });
        this.tell(this);
      }
    } finally {
      this.going = false;
    }
  }

  drop(id) {
    this.list.answered(id);
    this.changed();
  }
}

export function squeeze(element) {
  return (element?.textContent ?? "").replace(/\s+/g, " ").trim();
}

// ---- the page

const region = globalThis.document?.getElementById("queue");
const words = region?.dataset ?? {};
const sending = new WeakSet();
const asked = new WeakSet();
let token = JSON.parse(document.body?.getAttribute("hx-headers") ?? "{}")["X-CSRFToken"] ?? "";
let unkept = false;
let toldSent = 0;
let queue = null;

// Keeps what a form holds at this moment, to be sent by itself.
export function keep(form, path) {
  const data = typed(form);
  if (!queue || !isKept(form, data)) return;
  const item = itemOf(form, null, path, data);
  queue.begin(item);
  queue.list.lost(item.id);
  queue.changed();
}

// Whether what carries this id waits to be sent.
export function waits(id) {
  return queue?.list.find(id)?.state === "waiting";
}

// Whether an answer only asks who is there: nothing was written then.
function isWho(path) {
  return [words.signIn, words.whoIs, words.asOwner].some((address) => path.startsWith(address));
}

export function useToken(fresh) {
  token = fresh;
  document.body.setAttribute("hx-headers", JSON.stringify({ "X-CSRFToken": fresh }));
  for (const field of document.getElementsByName("csrfmiddlewaretoken")) field.value = fresh;
}

async function inTime(act) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ANSWER_MS);
  try {
    return await act(stop.signal);
  } catch {
    return { status: 0 };
  } finally {
    clearTimeout(timer);
  }
}

async function post(item, waited, fresh) {
  if (fresh) useToken(fresh);
  const headers = {
    "X-CSRFToken": token, "Coldroom-Waited": waited, "Coldroom-Person": item.person,
  };
  const answer = await inTime(async (signal) => {
    const body = new URLSearchParams(item.fields);
    const response = await fetch(item.path, { method: "POST", body, headers, signal });
    const { status } = response;
    return { status, header: (name) => response.headers.get(name), html: await response.text() };
  });
  return readAnswer(answer, isWho);
}

function typed(form, submitter) {
  const data = new FormData(form);
  if (submitter?.name) data.append(submitter.name, submitter.value);
  return data;
}

function hasFile(data) {
  return [...data.values()].some((value) => value.size);
}

function isKept(element, data) {
  if (element.hasAttribute("data-unkept") || element.querySelector("[type=password]")) return false;
  return data.has("entry") && !hasFile(data);
}

function wordsFor(element, button, data) {
  const { doing } = element.dataset;
  if (doing) return fill(doing, Object.fromEntries(data));
  const title = squeeze(document.querySelector("h1"));
  const tapped = button ?? element.querySelector("button") ?? element;
  const tap = squeeze(tapped.querySelector("b") ?? tapped);
  return (title.includes(tap) ? title : `${title}: ${tap}`).slice(0, LONGEST_WORDS);
}

function pathOf({ pathname, search }) {
  return pathname + search;
}

// The token is never kept: the page that sends has a fresh one.
function itemOf(element, button, path, data) {
  const fields = [...data].filter(
    ([name, value]) => name !== "csrfmiddlewaretoken" && typeof value === "string"
  );
  return {
    id: data.get("entry"), path: pathOf(new URL(path, location.href)), fields, name: words.name,
    words: wordsFor(element, button, data), page: pathOf(location),
  };
}

// Another thing typed into a form whose first one waits is another doing, with an id of its own.
function useOwnId(form, item) {
  const earlier = queue.list.find(item.id) ?? queue.sent.find((one) => one.id === item.id);
  if (!earlier || (earlier.path === item.path && same(earlier.fields, item.fields))) return item;
  const id = newEntry();
  for (const field of form.querySelectorAll("[name=entry]")) field.value = id;
  const fields = item.fields.map(([name, value]) => [name, name === "entry" ? id : value]);
  return { ...item, id, fields };
}

// htmx puts the fields it sets last: their order says nothing.
function same(one, other) {
  return JSON.stringify([...one].sort()) === JSON.stringify([...other].sort());
}

async function sendForm(form, button, data) {
  const path = button?.getAttribute("formaction") ?? form.getAttribute("action");
  const item = useOwnId(form, itemOf(form, button, path || location.href, data));
  queue.begin(item);
  const answer = await queue.send(item.id, isPage);
  if (isPage(answer)) show(answer.html, item.path);
  if (!answer.to) return;
  location.assign(answer.to);
  await leaving();
}

function leaving() {
  return new Promise((done) => setTimeout(done, LEAVING_MS));
}

function isPage({ html = "" }) {
  return html.includes("<main");
}

// A page that came as an answer, in the place of this one.
function show(html, path) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const main = document.adoptNode(page.querySelector("main"));
  if (path !== pathOf(location)) history.replaceState(null, "", path);
  document.title = page.title;
  document.body.className = page.body.className;
  document.querySelector("main").replaceWith(main);
  globalThis.htmx?.process(main);
  scrollTo(0, 0);
  main.querySelector("[autofocus]")?.focus();
}

async function askFirst(form, button) {
  const { status } = await inTime((signal) => fetch(words.there, { cache: "no-store", signal }));
  unkept = !status;
  tell();
  if (unkept) return;
  asked.add(form);
  if (form.requestSubmit) form.requestSubmit(button);
  else form.submit();
  await leaving();
}

// The form of what was refused meanwhile, with what was typed into it; sent, it takes its place.
function refill() {
  const item = queue.list.in("refused").find(({ id }) => location.hash === `#${id}`);
  const form = item && [...document.forms].find((one) => pathOf(new URL(one.action)) === item.path);
  if (!form) return;
  form.dataset.refills = item.id;
  for (const field of form.elements) {
    const values = item.fields.filter(([name]) => name === field.name).map(([, value]) => value);
    if (!field.name || ["hidden", "submit"].includes(field.type)) continue;
    if (["checkbox", "radio"].includes(field.type)) field.checked = values.includes(field.value);
    else if (values.length) [field.value] = values;
    const fold = field.closest("details");
    if (fold && (field.checked || (field.type !== "radio" && values[0]))) fold.open = true;
  }
}

async function submitted(event) {
  const { target: form, submitter: button } = event;
  if (event.defaultPrevented || asked.delete(form)) return;
  if (form.dataset.refills) queue.drop(form.dataset.refills);
  event.preventDefault();
  if (sending.has(form)) return;
  sending.add(form);
  form.classList.add("htmx-request");
  const data = typed(form, button);
  const kept = form.method === "post" && isKept(form, data);
  await (kept ? sendForm(form, button, data) : askFirst(form, button));
  sending.delete(form);
  form.classList.remove("htmx-request");
}

// ---- forms that htmx sends

function beforeHtmx({ detail }) {
  const { elt, verb, path, formData } = detail;
  if (verb !== "post") return;
  detail.headers["Coldroom-Person"] = words.person;
  if (hasFile(formData)) detail.timeout = FILE_MS;
  if (!isKept(elt, formData)) return;
  detail.parameters.entry = useOwnId(elt, itemOf(elt, null, path, formData)).id;
}

function htmxSends({ detail: { elt, requestConfig: { verb, path, formData, triggeringEvent } } }) {
  if (verb !== "post" || !isKept(elt, formData)) return;
  queue.begin(itemOf(elt, triggeringEvent?.submitter, path, formData));
}

function read(xhr) {
  const header = (name) => xhr.getResponseHeader(name);
  return readAnswer({ status: xhr.status, header, html: xhr.responseText }, isWho);
}

// A refusal goes where the part of a page was asked for, unless it is a page of its own.
function goesInPlace({ status, responseText }) {
  return status < 400 || ([403, 409, 422].includes(status) && !/^\s*<!doctype/i.test(responseText));
}

function beforeSwap({ detail }) {
  if (!goesInPlace(detail.xhr) || read(detail.xhr).kind === "stale") detail.shouldSwap = false;
}

function afterHtmx({ detail: { elt, xhr, requestConfig: { verb, formData } } }) {
  if (verb !== "post") return;
  const answer = read(xhr);
  const isShown = answer.kind === "refused" && goesInPlace(xhr);
  unkept = answer.kind === "none" && !isKept(elt, formData);
  if (answer.token) useToken(answer.token);
  if (answer.kind !== "none") toldSent = queue.sent.length;
  queue.settle(formData.get("entry"), isShown ? { kind: "done" } : answer);
  if (answer.kind !== "none") queue.goOn();
}

// ---- what stands at the top

function make(name, properties = {}, ...children) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children);
  return made;
}

function tapOn(text, act) {
  return make("button", { type: "button", textContent: text, onclick: act });
}

function waitingLine() {
  const waiting = queue.list.in("waiting");
  if (!waiting.length) return [];
  const others = waiting.filter((item) => item.person !== queue.person || queue.who);
  const why = others.length ? fill(words.other, { who: others[0].name }) : words.kept;
  const line = make("summary", {}, `↑ ${waitingWords(words.waiting, waiting)}`);
  const where = others.length
    ? make("a", { className: "button", href: queue.who || words.whoIs, textContent: words.change })
    : tapOn(words.now, () => queue.goOn());
  const each = waiting.map((item) =>
    make("p", {}, item.words, tapOn(words.drop, () => queue.drop(item.id)))
  );
  const open = region.querySelector("details")?.open ?? false;
  return [make("details", { open }, line, make("p", {}, why), where, ...each)];
}

function refusedLine(item) {
  const mark = make("p", {}, `✗ ${fill(words.refused, { what: item.words })} ${item.said}`);
  mark.setAttribute("role", "alert");
  const href = `${item.page}#${item.id}`;
  const open = make("a", { className: "button", href, textContent: words.open });
  const drop = tapOn(words.drop, () => queue.drop(item.id));
  return make("div", { className: "refused" }, mark, make("div", { className: "two" }, open, drop));
}

function sentLine(item) {
  const line = `✓ ${fill(words.sent, { what: item.words })}`;
  return item.to ? make("a", { href: item.to }, line) : make("p", {}, `${line} ${item.said}`);
}

// The last ones, and each that somebody must hear of.
function sentLines() {
  const untold = queue.sent.slice(toldSent);
  return untold.filter(({ mind }, n) => mind || n >= untold.length - MOST_SENT).map(sentLine);
}

// A form says so itself too: a crew member looks at the button, not at the top.
function markForms() {
  for (const { form, value } of document.getElementsByName("entry")) {
    if (!form) continue;
    const sent = queue.sent.some((item) => item.id === value);
    if (waits(value)) form.dataset.waits = `↑ ${words.mark}`;
    else if (sent) form.dataset.waits = `✓ ${words.markSent}`;
    else delete form.dataset.waits;
  }
}

// What stands below it must not slide under the thumb.
function tell() {
  markForms();
  const below = document.querySelector("main");
  const before = below?.getBoundingClientRect().top ?? 0;
  region.replaceChildren(
    ...(unkept ? [make("p", {}, `✗ ${words.unkept}`)] : []),
    ...queue.list.in("refused").map(refusedLine),
    ...waitingLine(),
    ...sentLines()
  );
  scrollBy(0, (below?.getBoundingClientRect().top ?? 0) - before);
}

if (region) {
  queue = new Queue({ store: tabStore("queue"), post, tell, person: words.person });
  document.addEventListener("submit", submitted);
  document.body.addEventListener("htmx:configRequest", beforeHtmx);
  document.body.addEventListener("htmx:beforeRequest", htmxSends);
  document.body.addEventListener("htmx:beforeSwap", beforeSwap);
  document.body.addEventListener("htmx:afterRequest", afterHtmx);
  addEventListener("online", () => queue.goOn());
  // A page that Back brings from memory knows nothing of what was sent since.
  addEventListener("pageshow", ({ persisted }) => persisted && queue.load());
  addEventListener("hashchange", refill);
  queue.load().then(refill);
}
