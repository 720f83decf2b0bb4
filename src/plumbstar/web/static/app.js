// The shell: which screen, how it is dressed, and one redraw a frame at most.

import { h, patch } from "./dom.js";
import { act, connect, keep, quietSeconds, say, store } from "./store.js";
import { button, choiceRow, go, keepUi, mapLive, readingText, redraw, setRedraw, setWear, toggle, ui, usable } from "./parts.js";
import { capital } from "./words.js";
import { lesson, offer, teach } from "./lessons.js";
import { sunBanner } from "./sunquestion.js";
import { readAnew, readingAnew, settle } from "./circles.js";
import { compareClocks, timingBanners } from "./timing.js";
import { fromElsewhere, rehearsalLine } from "./rehearse.js";
import { tell } from "./stop.js";
import { tellZone } from "./zone.js";
import { awaited, bring } from "./awaited.js";
import { awakeWords, stayAwake } from "./awake.js";
import * as kitasked from "./kitasked.js";
import * as prepare from "./prepare.js";
import * as sight from "./sight.js";
import * as fix from "./fix.js";
import * as find from "./find.js";
import * as tonight from "./tonight.js";
import * as beside from "./beside.js";
import * as besidefind from "./besidefind.js";

/** @type {Record<string, { title: string; question: string; view: (state: Picture) => Kids; live: (state: Picture) => void }>} */
const views = {
  ...{ prepare, sight, fix, find, tonight },
  log: awaited("log", "Log", "What was seen?"),
  mend: awaited("mend", "Mend", "What is wrong?"),
  seen: awaited("seen", "Seen", "What have you seen?"),
};
const order = ["prepare", "tonight", "sight", "fix", "find", "log"];
const root = document.documentElement;
const stage = document.getElementById("stage");
/** @type {Tree[]} */
let drawn = [];
let due = false;

const here = () => (location.hash.slice(1) in views ? location.hash.slice(1) : "");

/**
 * Where a phone that has just arrived should land: where the evening has got to.
 * @param {Picture} state
 */
function landing(state) {
  if (!state) return "prepare";
  if (state.target) return "find";
  return state.next.page;
}

// ---- dress: one colour, in four strengths

const STRENGTH = [0.4, 0.6, 0.8, 1];
function dress() {
  root.dataset.dress = ui.dress;
  root.dataset.text = String(ui.text);
  const full = STRENGTH[ui.lamp] ?? 1;
  const red = (/** @type {number} */ part) => `rgb(${Math.round(255 * part * full)} 0 0)`;
  const night = ui.dress === "night";
  const set = (/** @type {string} */ name, /** @type {any} */ value) => (night ? root.style.setProperty(name, value) : root.style.removeProperty(name));
  set("--ink", red(1));
  const stark = matchMedia("(prefers-contrast: more)").matches;
  set("--soft", red(stark ? 1 : 0.82));
  set("--faint", red(stark ? 0.65 : 0.42));
  set("--wash", red(0.15));
  root.style.fontSize = ui.text === 100 ? "" : `${ui.text}%`;
  document.querySelector('meta[name="theme-color"]')?.setAttribute("content", night ? "#000000" : "#ffffff");
}
/** @param {Partial<Ui>} what */
function change(what) {
  Object.assign(ui, what);
  keepUi();
  dress();
  redraw();
}

function light() {
  if (!ui.light) return null;
  const pairing = store.state?.pairing;
  return h("section", { id: "light", class: "light", key: "light", "aria-label": "Screen" },
    choiceRow("dress", "Dress", [["night", "Night red"], ["day", "Daylight"]], ui.dress, (v) => change({ dress: v })),
    ui.dress === "night"
      ? choiceRow("lamp", "Brightness", [["0", "Faint"], ["1", "Low"], ["2", "Middle"], ["3", "Full"]], String(ui.lamp), (v) => change({ lamp: Number(v) }))
      : null,
    choiceRow("text", "Text", [["100", "Normal"], ["150", "Large"], ["200", "Twice"]], String(ui.text), (v) => change({ text: Number(v) })),
    toggle("Keys on the page", ui.ownKeys, (on) => change({ ownKeys: on }), "dark; the phone’s own keyboard is bright"),
    toggle("Each step explained", ui.learner, teach, "once, on its own screen"),
    h("p", {}, awakeWords()),
    pairing && !/127\.0\.0\.1|localhost/.test(pairing.url) ? h("p", {}, `Another phone on this network: open ${pairing.url}`) : null,
    button("Close", () => { ui.light = false; redraw(); document.getElementById("light-button")?.focus(); }));
}

/**
 * Whoever took the dress of the day is offered the other at dusk.
 * @param {Picture} state
 */
const nightDress = (state) => ui.dress === "day" && ui.dressAsked && state.sun && !state.sun.up
  ? h("div", { class: "row", key: "dress" }, button("It gets dark: red on black", () => change({ dress: "night", dressAsked: false })))
  : null;

// ---- the shell

/** @param {string} text */
const small = (text) => text.charAt(0).toLowerCase() + text.slice(1);
function statusWords() {
  const r = store.reading;
  if (store.silent) return `No answer from the telescope for ${quietSeconds()}\u00a0s`;
  if (!store.state) return "Connecting to the telescope…";
  if (store.state.beside) return "Beside your controller";
  if (!r) return "Waiting for the first reading";
  if (r.state === "live") return readingText(r);
  if (r.state === "typed") return `Typed: ${small(readingText(r))}`;
  if (r.state === "stale") return `Old${r.age_s === null ? "" : `, ${Math.round(r.age_s)} s`}: ${small(readingText(r))}`;
  return store.state.kit?.connection === "typed" ? "Circles read by eye" : capital(r.problem || "The encoders do not answer");
}

/**
 * The line that stays, with the way back to what is said above the page.
 * @param {Picture | null} state
 */
function top(state, /** @type {number} */ said) {
  const live = usable(store.reading);
  return h("header", { key: "top", ref: (el) => below.observe(el) },
    h("div", { class: "top" },
      h("p", { id: "status", class: live ? "status" : "status dim" }, h("span", { class: live ? "lamp on" : "lamp", "aria-hidden": "true" }), h("span", { id: "status-words" }, statusWords())),
      said ? button(said === 1 ? "1 notice" : `${said} notices`, () => scrollTo(0, 0), { key: "to-notices", class: "to-notices" }) : null,
      button("Screen", () => { ui.light = !ui.light; redraw(); }, { id: "light-button", "aria-expanded": ui.light ? "true" : "false", "aria-controls": "light" })),
    light(),
    state ? rehearsalLine(state) : null);
}

/**
 * What is said above every page, the weightiest first: that one whole, the others by one press. They
 * move away with the page; the top line alone stays.
 * @param {Picture | null} state
 */
function noticesOf(state) {
  return /** @type {Tree[]} */ ([
    store.silent
      ? h("p", { class: "banner", key: "silent" }, h("strong", {}, "The link is lost. "), "What you see is old. The link comes back by itself. Until then taps are kept on this phone.")
      : null,
    // Whoever answers a press is still at the eyepiece; and the Sun comes before every other thing.
    state && state.doubts.length && !readingAnew(state.doubts[0]) ? doubt(state.doubts[0]) : null,
    state && state.sun_question && !(state.target && location.hash === "#find") ? sunBanner(state.sun_question) : null,
    state && state.slip
      ? h("div", { class: "banner", key: "slip" }, h("p", {}, state.slip.sentence), button("I am sure that nothing moved", () => act("acknowledge_slip", {})))
      : null,
    state && state.moved ? moved(state.moved) : null,
    // One question at a time: that of the Sun comes before whose clock is right.
    ...(state && !(state.sun_question && !state.sun_question.told) ? timingBanners(state) : []),
    ...(state ? state.messages : []).slice().reverse().sort((a, b) => Number(b.kind === "problem") - Number(a.kind === "problem")).map((m) =>
      h("div", { class: m.kind === "problem" ? "banner" : "banner mild", key: `m${m.id}` }, h("p", {}, m.text), button("Dismiss", () => act("dismiss", { id: m.id })))),
  ].filter(Boolean));
}

/**
 * @param {Tree[]} all
 * @param {number} first how many stand there unasked
 */
function notices(all, first) {
  const shown = ui.allNotices ? all : all.slice(0, first);
  const more = all.length - first;
  const less = first ? "Show the first alone" : "Fold them away";
  return h("section", { key: "notices", class: "notices", "aria-label": "What to know first" },
    shown,
    more > 0
      ? button(ui.allNotices ? less : `${more} ${first ? "more " : ""}${more === 1 ? "notice" : "notices"}`, () => { ui.allNotices = !ui.allNotices; redraw(); }, { class: "more-notices", key: "more", "aria-expanded": ui.allNotices ? "true" : "false" })
      : null);
}

/**
 * The sightings tell that something moved: the observer knows whether it can be.
 * @param {MovedRecord} m
 */
function moved(m) {
  const say = (/** @type {boolean} */ yes) => () => act("answer_move", { after: m.after, moved: yes });
  return h("div", { class: "banner", key: "moved", id: "moved" },
    h("p", {}, m.sentence),
    h("div", { class: "row" },
      button(m.since > 1 ? `Yes: go on from the last ${m.since} stars` : "Yes: go on from the last star", say(true)),
      button("No, nothing moved", say(false))));
}

/**
 * A press that cannot be what it says: the observer's eye is still at the eyepiece.
 * @param {DoubtRecord} d
 */
function doubt(d) {
  const answer = (/** @type {boolean} */ save, near = false, exchanged = false) => () => {
    if (!save || near) ui.restUntil = 0;
    return settle({ id: d.id, save, near, exchanged });
  };
  return h("div", { class: "banner", key: `doubt-${d.id}`, id: "doubt", role: "alert" },
    h("p", {}, d.sentence),
    h("div", { class: "row" },
      d.exchanged ? button("The two readings were exchanged", answer(true, false, true)) : null,
      d.near ? button(d.near, answer(true, true)) : null,
      d.stop_untold ? tell("stop-of-tap") : button(d.yes, answer(true)),
      d.typed ? button("Type the readings again", () => { readAnew(d); if (!["sight", "find"].includes(here())) go("sight"); }) : null,
      button(d.stop_untold ? "Drop the tap" : "No, drop it", answer(false))));
}

/** @param {string} now */
function nav(now) {
  // Without readings there is no fix to look at: what is known stands on Sight.
  const shown = store.state?.beside ? order.filter((name) => name !== "fix") : order;
  return h("nav", { "aria-label": "The evening", key: "nav" },
    shown.map((name) => h("a", { href: `#${name}`, key: name, class: name === now ? "station here" : "station", "aria-current": name === now ? "page" : null }, h("span", {}, views[name].title))));
}

/** What an action led to stays in sight below the top line, however tall that has grown meanwhile. */
const below = new ResizeObserver(([{ target }]) => {
  const head = /** @type {HTMLElement} */ (target);
  root.style.setProperty("--top", getComputedStyle(head).position === "sticky" ? `${head.offsetHeight}px` : "0px");
});

/**
 * Beside a closed controller two screens are others: there are no readings.
 * @param {string} name
 * @param {Picture} state
 */
function screen(name, state) {
  const b = state.beside;
  if (b && (name === "sight" || name === "fix")) return beside.sight(state, b);
  return (b && name === "find" && besidefind.find(state, b)) || views[name].view(state);
}

let shown = "", asked = "";
function render() {
  due = false;
  const state = store.state;
  let name = here();
  if (!name) {
    if (!state) name = "prepare";
    else {
      name = landing(state);
      history.replaceState(null, "", `#${name}`);
    }
  }
  const view = views[name];
  const telescopeAsked = name === "prepare" && kitasked.asking();
  const body = h("main", { id: "main", key: `main-${name}`, class: store.silent ? `old ${name}` : name },
    h("h1", { id: "question", tabindex: -1, class: store.outcome.text ? "unseen" : "" }, telescopeAsked ? "Your telescope" : (state?.beside && beside.question(name, state.beside)) || view.question),
    h("p", { id: "outcome", class: store.outcome.bad ? "outcome bad" : "outcome", role: "status", "aria-live": "polite" }, store.outcome.text),
    state ? nightDress(state) : null,
    state && !telescopeAsked ? lesson(name) || (name === "prepare" ? offer(state) : null) : null,
    state ? screen(name, state) : h("p", { class: "answer" }, "Connecting to the telescope’s computer…"));
  if (state) tellZone(state);
  const said = noticesOf(state);
  // The question about the Sun is a page of its own: but for who is still at the eyepiece it comes first.
  const alone = state?.sun_question && state.target && name === "find" && !state.doubts.length && !store.silent;
  const now = [top(state, alone ? 0 : said.length), notices(said, alone ? 0 : 1), body, nav(name)];
  patch(stage, drawn, now);
  drawn = now;
  const question = state?.doubts[0]?.id ?? "";
  if (question && question !== asked) scrollTo(0, 0); // whoever pressed is to see what is asked
  asked = question;
  if (shown !== name) {
    document.title = `${view.title} – Plumbstar`;
    if (shown) {
      scrollTo(0, 0);
      document.getElementById("question")?.focus({ preventScroll: true });
    }
    shown = name;
  }
  if (state) bring();
  frame();
}

function schedule() {
  if (due) return;
  due = true;
  requestAnimationFrame(render);
}

let framed = false;
/** @type {boolean | null} */
let usableBefore = null;
function frame() {
  framed = false;
  const ok = usable(store.reading);
  if (ok !== usableBefore) {
    usableBefore = ok;
    schedule();
  }
  const words = document.getElementById("status-words");
  if (words) {
    const text = statusWords();
    if (words.textContent !== text) words.textContent = text;
  }
  const view = views[shown];
  if (view && store.state) view.live(store.state);
  mapLive();
}

setRedraw(schedule);
setWear(change);
if (!("dress" in (JSON.parse(localStorage.getItem("plumbstar.dress") || "{}")))) keep("plumbstar.dress", { ...ui });
dress();
addEventListener("hashchange", () => {
  ui.padFor = "";
  if (store.outcome.text) say("");
  schedule();
});
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && stayAwake(redraw));
addEventListener("keydown", (e) => {
  // Escape closes what lies open; no key is ever trapped.
  if (e.key !== "Escape" || !(ui.padFor || ui.light)) return;
  ui.padFor = "";
  ui.light = false;
  schedule();
});
document.getElementById("skip")?.addEventListener("click", (e) => {
  e.preventDefault(); // the address's fragment names the screen
  document.getElementById("question")?.focus();
});
stayAwake(redraw);
schedule();
compareClocks();
fromElsewhere();
connect(schedule, () => {
  if (framed) return;
  framed = true;
  requestAnimationFrame(frame);
});
root.dataset.whole = ""; // loading.js waits for this
