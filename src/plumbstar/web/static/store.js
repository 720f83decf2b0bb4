// The link to the telescope: the whole state as the server tells it, the reading twenty times a
// second, what we ask it to do, and what it has not yet said it saved.

import { Ahead } from "./ahead.js";
import { capital } from "./words.js";

const SILENCE_MS = 3000; // after this the page says it has heard nothing
const GIVE_UP_MS = 6000; // after this it hangs up and calls again
const FIRST_WAIT_MS = 300;
const LONGEST_WAIT_MS = 5000;
const QUEUE = "plumbstar.unsaved";

export const store = {
  /** @type {Picture | null} */
  state: null,
  /** @type {ReadingRecord | null} */
  reading: null,
  heardAt: 0, // performance.now() of the last word
  silent: false,
  stale: false,
  /** @type {Queued[]} */
  queue: load(QUEUE, []),
  outcome: { text: "", bad: false },
  /** Presses of this page that the server saved: their names, and the sightings' ids. @type {Record<string, number>} */
  saved: {},
  /** What was saved beside a controller, until the picture that knows of it has come. @type {{ event: string, version: number, until: number }[]} */
  entered: [],
};

let onChange = () => {};
let onReading = () => {};
/** @type {EventSource | null} */
let source = null;
let wait = FIRST_WAIT_MS;
let timer = 0;
let failures = 0;
let ahead = new Ahead();

/**
 * @param {string} key
 * @param {any} otherwise
 */
export function load(key, otherwise) {
  try {
    const text = localStorage.getItem(key);
    return text === null ? otherwise : JSON.parse(text);
  } catch {
    return otherwise;
  }
}

/**
 * @param {string} key
 * @param {any} value
 */
export function keep(key, value) {
  try {
    localStorage.setItem(key, JSON.stringify(value));
    return true;
  } catch {
    return false; // a full or forbidden store: the page goes on without memory
  }
}

const OUTCOME_MS = 12_000; // then the screen's own question stands there again
let fading = 0;

/**
 * One line for the eye and the screen reader.
 * @param {string} text
 */
export function say(text, bad = false) {
  store.outcome = { text, bad };
  clearTimeout(fading);
  if (text && !bad) fading = setTimeout(() => say(""), OUTCOME_MS);
  onChange();
}

// ---- the stream

/**
 * @param {() => void} changed
 * @param {() => void} read
 */
export function connect(changed, read) {
  onChange = changed;
  onReading = read;
  began = performance.now();
  open();
  const again = () => {
    if (document.visibilityState === "hidden") return;
    wait = FIRST_WAIT_MS;
    open();
    sendQueue(true);
  };
  document.addEventListener("visibilitychange", again);
  addEventListener("pageshow", (e) => e.persisted && again());
  addEventListener("online", again);
  setInterval(watch, 500);
}

function open() {
  clearTimeout(timer);
  timer = 0;
  if (source) source.close();
  const mine = (source = new EventSource("/stream"));
  opened = performance.now();
  ahead = new Ahead(); // after a sleep this phone's steady clock may have stood still
  mine.addEventListener("state", (e) => {
    if (mine !== source) return;
    heard();
    store.state = JSON.parse(e.data);
    answered();
    onChange();
    sendQueue(true);
  });
  mine.addEventListener("reading", (e) => {
    if (mine !== source) return;
    heard();
    ahead.hear(Number(e.lastEventId), performance.now());
    store.reading = JSON.parse(e.data);
    onReading();
  });
  mine.onerror = () => {
    if (mine !== source) return;
    mine.close();
    source = null;
    failures += 1;
    if (failures % 3 === 0) stillWelcome();
    callLater();
  };
}
let opened = 0, began = 0;

function heard() {
  store.heardAt = performance.now();
  wait = FIRST_WAIT_MS;
  failures = 0;
  if (store.silent) {
    store.silent = false;
    onChange();
  }
}

function callLater() {
  if (timer) return;
  timer = setTimeout(open, wait * (0.8 + 0.4 * Math.random()));
  wait = Math.min(wait * 1.8, LONGEST_WAIT_MS);
}

/** Not being answered may mean that this phone is no longer paired: then the pair page is shown. */
async function stillWelcome() {
  try {
    const reply = await fetch("/data/version", { headers: { "X-Plumbstar": "1" } });
    if (reply.status === 401 || reply.status === 403 || reply.redirected) location.reload();
    if (reply.status === 409) location.reload(); // the logbook is asked about first
  } catch {
    // no network: nothing to conclude
  }
}

function watch() {
  const now = performance.now();
  const before = store.silent;
  store.silent = now - lastWord() > SILENCE_MS;
  if (store.silent !== before || store.silent) onChange();
  const since = Math.max(store.heardAt, opened);
  if (source && now - since > GIVE_UP_MS) {
    source.close();
    source = null;
    callLater();
  }
}

/** When anything was heard last; before that, when it was first asked: over a slow link that is long after the page began. */
const lastWord = () => store.heardAt || began;

/** Seconds since anything was heard. */
export const quietSeconds = () => Math.round((performance.now() - lastWord()) / 1000);

// ---- asking

export class Refused extends Error {
  /**
   * @param {string} words
   * @param {string} [wants] what a press was refused for want of
   */
  constructor(words, wants = "") {
    super(words);
    this.wants = wants;
  }
}

/**
 * Why there is no answer: the server's reason, never the browser's own words for a broken link.
 * @param {unknown} e what was thrown
 */
export const whyNot = (e) => (e instanceof Refused ? e.message : "No answer from the telescope’s computer.");

/**
 * What went wrong and what to do, as sentences.
 * @param {Partial<RefusedAnswer>} said
 */
export const told = (said) =>
  [said.error, said.remedy].flatMap((s) => (s ? [s.replace(/\.?$/, ".")] : [])).join(" ");

/**
 * @param {keyof Actions} name
 * @param {object} body
 * @returns {Promise<any>}
 */
async function post(name, body) {
  const stop = new AbortController();
  const late = setTimeout(() => stop.abort(), 8000);
  try {
    const reply = await fetch(`/do/${name}`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Plumbstar": "1", ...ahead.sent(performance.now()) },
      body: JSON.stringify(body),
      signal: stop.signal,
    });
    const said = await reply.json().catch(() => ({}));
    if (reply.ok) return said;
    if (reply.status === 401) location.reload(); // no longer paired: the pair page comes
    if (reply.status >= 500 || reply.status === 429 || reply.status === 401) throw new Error("busy");
    throw new Refused(told(said) || `The telescope’s computer refused (${reply.status}).`, said.wants);
  } finally {
    clearTimeout(late);
  }
}

/**
 * Do a thing; says why not if it fails. Returns the reply, or null.
 * @template {keyof Actions} A
 * @param {A} name
 * @param {Actions[A]} [body]
 * @param {string} [done]
 * @returns {Promise<(A extends keyof DoneBy ? DoneBy[A] : Done) | null>}
 */
export async function act(name, body = /** @type {any} */ ({}), done = "") {
  try {
    const reply = await post(name, body);
    if (done) say(done);
    else if (store.outcome.bad) say("");
    return reply;
  } catch (e) {
    say(
      e instanceof Refused
        ? e.message
        : "Not done: no answer from the telescope’s computer. Try again when the link is back.",
      true,
    );
    return null;
  }
}

/**
 * Ask for what the stream does not tell. Throws Refused with the reason.
 * @template {keyof Answers} A
 * @param {A} path
 * @param {string} [query] beginning with "?"
 * @returns {Promise<Answers[A]>}
 */
export async function get(path, query = "") {
  const reply = await fetch(path + query, { headers: { "X-Plumbstar": "1" } });
  const said = await reply.json().catch(() => ({}));
  if (!reply.ok) {
    throw new Refused(told(said) || "No answer.");
  }
  return said;
}

/**
 * Fetch a file and hand it to the phone to keep; gives its name.
 * @param {string} path
 */
export async function keepFile(path) {
  const reply = await fetch(path, { headers: { "X-Plumbstar": "1" } });
  if (!reply.ok) throw new Refused(told(await reply.json().catch(() => ({}))) || "No answer.");
  const name = /filename="([^"]+)"/.exec(reply.headers.get("content-disposition") || "")?.[1] || "file";
  const link = document.createElement("a");
  link.href = URL.createObjectURL(await reply.blob());
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000); // the phone may still be reading it
  return name;
}

// ---- taps that must not be lost

/**
 * The instant of an event, on both clocks: the steady one and the one that runs while asleep.
 * @param {any} event
 */
export function instant(event) {
  const now = performance.now();
  const t = event && event.timeStamp > 0 && event.timeStamp <= now ? event.timeStamp : now;
  return { mono: t, origin: performance.timeOrigin, wall: Date.now() - (now - t) };
}

/**
 * Milliseconds since that instant.
 * @param {Pressed} at
 */
export function ago(at) {
  const wall = Math.max(0, Date.now() - at.wall);
  if (at.origin !== performance.timeOrigin) return wall; // the page was loaded anew since
  const mono = performance.now() - at.mono;
  // A sleeping phone stops the steady clock but not the other.
  return wall - mono > 2000 ? wall : mono;
}

export function uuid() {
  // crypto.randomUUID is missing over plain HTTP, which is how a phone reaches the telescope.
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 15) | 64;
  b[8] = (b[8] & 63) | 128;
  const x = [...b].map((n) => n.toString(16).padStart(2, "0")).join("");
  return `${x.slice(0, 8)}-${x.slice(8, 12)}-${x.slice(12, 16)}-${x.slice(16, 20)}-${x.slice(20)}`;
}

/**
 * Keep a tap until the server has said that it saved it.
 * @template {Queued["name"]} N
 * @param {N} name
 * @param {Omit<Actions[N], "id">} body
 * @param {Pressed} at
 * @param {string} what
 * @param {string} [target]
 */
export function record(name, body, at, what, target = "") {
  /** @type {Queued} */
  const item = { id: uuid(), name, body: /** @type {Queued["body"]} */ (body), at, what, target, error: "", wants: "" };
  store.queue.push(item);
  const kept = keep(QUEUE, store.queue);
  if (!kept) say("This phone will not remember the tap if the page is closed.", true);
  onChange();
  sendQueue(true);
  return item.id;
}

/** @param {string} id */
export function discard(id) {
  store.queue = store.queue.filter((i) => i.id !== id);
  keep(QUEUE, store.queue);
  onChange();
}

/** The press that is said to be asked about, with what was said of it. @type {{ id: string, version: number, text: string } | null} */
let asked = null;

/** It may be answered on another phone: then nothing is asked any more. */
function answered() {
  if (!asked || !store.state || store.state.version < asked.version) return;
  if (store.state.doubts.some((d) => d.id === asked?.id)) return;
  if (store.outcome.text === asked.text) say("");
  asked = null;
}

let sending = false;
let more = false;
let retry = 0;
let pause = 1000;

/** @param {number} keptMs so long a tap is of use to the server */
function tooLate(keptMs) {
  const minutes = Math.round(keptMs / 60_000);
  return minutes < 120
    ? `More than ${minutes} minutes have passed, and the reading of that moment is gone. Please sight it again.`
    : `More than ${Math.round(minutes / 60)} hours have passed: that is too late for this tap.`;
}

async function sendQueue(now = false) {
  if (sending) {
    more = true; // tapped while an earlier one is on its way: straight after it
    return;
  }
  clearTimeout(retry);
  if (now) pause = 1000;
  sending = true;
  try {
    for (const item of store.queue.slice()) {
      if (item.error) continue;
      try {
        // Until a picture has come the server is asked, which knows the same limit.
        const keptMs = store.state ? 1000 * store.state.kit.presses_kept_s : Infinity;
        if (ago(item.at) > keptMs) throw new Refused(tooLate(keptMs));
        // "Here, centred" speaks of the target of that moment, whatever has been chosen since.
        const extra = item.target ? { target: item.target } : {};
        const when = { id: item.id, ago_ms: Math.round(ago(item.at)) };
        const reply = await post(item.name, { ...extra, ...item.body, ...when });
        store.queue = store.queue.filter((i) => i.id !== item.id);
        keep(QUEUE, store.queue);
        if (item.name === "controller_entry") store.entered.push({ event: item.body.event ?? "", version: reply.version, until: performance.now() + 3000 });
        if (reply.sighting_id !== null) store.saved[item.id] = reply.sighting_id;
        if (reply.asked) {
          asked = { id: item.id, version: reply.version, text: `${capital(item.what)}: not saved yet.` };
          say(asked.text);
        }
        else if (reply.sighting_id === null && item.body.star === "?") say("Noted: a bright star. It has no name yet.");
        else say(reply.sighting_id === null ? `${capital(item.what)}: dropped before.` : `Saved: ${item.what}.`);
      } catch (e) {
        if (!(e instanceof Refused)) throw e;
        if (e.wants === "nothing") { // it can never be saved: said once, and not kept
          discard(item.id);
          say(e.message, true);
          continue;
        }
        item.error = e.message;
        item.wants = e.wants;
        keep(QUEUE, store.queue);
        onChange();
      }
    }
  } catch {
    retry = setTimeout(sendQueue, pause);
    pause = Math.min(pause * 2, 8000);
  } finally {
    sending = false;
    if (more) {
      more = false;
      sendQueue();
    }
  }
}

/** @param {string} id */
export function tryAgain(id) {
  for (const item of store.queue) if (item.id === id) item.error = "";
  sendQueue(true);
}
