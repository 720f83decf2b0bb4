// Beside a closed controller: three timed taps, its number, the look back. Finding: besidefind.js.

import { h } from "./dom.js";
import { act, record, store } from "./store.js";
import { answer, big, button, eyepieceRow, go, pressed, redraw, section, ui } from "./parts.js";
import { amount, askLeft, leftForm, leftWaiting } from "./besidepad.js";
import { kitPages } from "./besidekit.js";
import { simulated } from "./closedhand.js";
import { rehearseButton } from "./rehearse.js";
import { rehearsal, rehearse, rehearsing } from "./besiderehearse.js";
import { lookalikes, queue } from "./sight.js";
import { wayBlock } from "./starway.js";
import { brightness, capital, degrees } from "./words.js";

const REST_MS = 2000; // nobody is at the next star sooner; a second tap is a slip of the thumb

/** @type {Record<string, Record<string, string>>} */
const NEXT = {
  star: { upright: "second", first: "second", second: "number" },
  number: { number: "look_back" },
  centred: { look_back: "find" },
};

/**
 * What is asked next, with the taps that this phone still keeps counted in.
 * @param {BesideRecord} b
 */
export function step(b) {
  store.entered = store.entered.filter((e) => e.version > (store.state?.version ?? 0) && performance.now() < e.until);
  const waiting = store.queue.flatMap((q) => (q.name === "controller_entry" && !q.error && q.body.event ? [q.body.event] : []));
  return [...store.entered.map((e) => e.event), ...waiting].reduce((now, event) =>
    event === "upright" ? "first" : NEXT[event]?.[now] ?? now, b.step);
}

/**
 * The screen's question, where it is another than with readings.
 * @param {string} name
 * @param {BesideRecord} b
 */
export function question(name, b) {
  if (name === "find") return leftWaiting() ? "What does it show?" : "Which way?";
  if (name !== "sight" && name !== "fix") return "";
  if (rehearsing()) return "How quick are your hands?";
  if (ui.boxAgain && name === "sight") return "What have you got?";
  if (leftWaiting()) return "What does it show?";
  return { kit: "What have you got?", pair: "Which stars?", upright: "Is it on the stop?", number: "What does it show?", look_back: "Look back", find: "How good is it?" }[step(b)] ?? "Is it centred?";
}

const resting = () => performance.now() < (ui.restUntil ?? 0);

/**
 * @param {Pressed} when
 * @param {Omit<Actions["controller_entry"], "id">} body
 * @param {string} what
 */
function press(when, body, what) {
  if (resting()) return;
  ui.restUntil = performance.now() + REST_MS;
  setTimeout(redraw, REST_MS + 50);
  if (navigator.vibrate) navigator.vibrate(40);
  record("controller_entry", body, when, what);
  redraw();
}

/**
 * The button is the view in the eyepiece, as with every telescope.
 * @param {string} word
 * @param {string} label
 * @param {(when: Pressed) => void} done
 */
export const eye = (word, label, done) =>
  h("div", { class: "eye-box", key: "eye" },
    h("button", { type: "button", id: "tap", class: resting() ? "eye resting" : "eye", "aria-label": label, oncontextmenu: (/** @type {Event} */ e) => e.preventDefault(), ...pressed(done) },
      h("span", { class: "eye-star", "aria-hidden": "true" }),
      h("span", { class: "eye-word" }, resting() ? "Noted" : word),
      h("span", { class: "eye-small" }, resting() ? (store.queue.length ? "not yet saved" : "saved") : "tap at that very moment")));

/** @param {Picture} state */
const sunWarning = (state) => (state.sun && state.sun.up && !state.sun.filter_confirmed
  ? h("p", { class: "warning", key: "sun" }, "The Sun is up. Know where it is before you move the tube, and never sweep toward it: one glance blinds for good.")
  : null);

/**
 * @param {Picture} state
 * @param {BesideRecord} b
 */
function upright(state, b) {
  const [a, z] = b.stars;
  return [
    sunWarning(state),
    answer("Tube to the stop, switch on, and tap."),
    eye("On the stop", "The tube is on the stop: record it", (when) => {
      ui.stopAgain = false;
      press(when, { event: "upright" }, "tube on the stop");
    }),
    h("ol", { class: "steps", key: "steps" },
      h("li", {}, `First bring ${a} into the finder, with the controller off.`),
      h("li", {}, "Then lift the tube to the stop, switch on, tap, and lower it again, straight down."),
      h("li", {}, `Centre ${a}, tell the controller, tap. Then ${z}. Blur each to a disc, and centre the disc.`)),
    h("p", { class: "note", key: "hurry" }, `A minute for all of it, better half (common practice). ${b.slow_hands}`),
    ui.stopAgain ? button("Leave it as it is", () => { ui.stopAgain = false; redraw(); }, { key: "leave" })
      : h("div", { class: "one-below-another", key: "armchair" }, button("Rehearse the three steps in the armchair", rehearse, { key: "rehearse" }), rehearseButton(state)),
  ];
}

/**
 * @param {Picture} state
 * @param {BesideRecord} b
 * @param {number} k
 */
function star(state, b, k) {
  const name = b.stars[k] ?? "";
  const p = state.plan.find((s) => s.star === name);
  return [
    sunWarning(state),
    h("p", { class: "star-name", key: "name" }, name),
    p?.near_sun ? h("p", { class: "warning", key: "near-sun" }, p.near_sun)
      : p && p.alt_deg !== null ? h("p", { class: "big-words", key: "where" }, `${capital(p.where)}, ${degrees(p.alt_deg, 0)} up; ${[brightness(p.v_mag), p.colour].filter(Boolean).join(", ")}.`) : null,
    h("p", { class: "clock", key: "clock" }, h("strong", { id: "since" }, since()), " since the stop"),
    eye("Centred", `${name} is centred: record it`, (when) => press(when, { event: "star", star: name }, `${name}, centred`)),
    h("p", { key: "how" }, `In the middle? Take ${name} on the controller, and tap here in the same moment.`),
    p && !p.near_sun ? [wayBlock(state, p.star), lookalikes(p)] : null,
  ];
}

/** @param {number} n */
const numberSaved = (n) => `the number ${n > 0 ? "+" : n < 0 ? "−" : ""}${Math.abs(n)}°`;

/** @param {BesideRecord} b */
const number = (b) => [
  answer("Which number does it show now?"),
  amount("shown-number", "The number, without its sign", [["Minus", -1], ["Plus", 1]], (size, side) => `${side === "Plus" ? "+" : "−"}${size}`, (n) => {
    record("controller_entry", { event: "number", number_deg: n }, now(), numberSaved(n));
    scrollTo(0, 0);
  }),
  h("p", { class: "note", key: "taps" }, b.taps_words),
];

const now = () => ({ mono: performance.now(), origin: performance.timeOrigin, wall: Date.now() });

const LIKELIEST = 2;

/** What may have gone wrong; at once the likeliest, and what a press mends. @param {BesideRecord} b */
export function mistakes(b) {
  const atOnce = b.mistakes.filter((m, i) => i < LIKELIEST || m.number_deg !== null);
  const others = b.mistakes.filter((m) => !atOnce.includes(m));
  return [atOnce.map(mistake), others.length ? section("less-likely", "Less likely", `${others.length} more`, others.map(mistake)) : null];
}

/** @param {BesideRecord["mistakes"][number]} m */
function mistake(m) {
  const other = m.number_deg;
  return h("div", { key: m.sentence }, h("p", { class: "warning" }, `${capital(m.probability_words)}: ${m.sentence}`),
    other === null ? null : h("p", {}, button(`It shows ${other < 0 ? "−" : "+"}${Math.abs(other)}°`, () => record("controller_entry", { event: "number", number_deg: other }, now(), numberSaved(other)), { id: "other-sign" })));
}

/** @param {BesideRecord} b */
const told = (b) => [
  b.meaning ? h("p", { key: "meaning" }, b.meaning) : null,
  b.sharing_words ? h("p", { key: "sharing" }, b.sharing_words) : null,
];

/** @param {BesideRecord} b */
function lookBack(b) {
  const last = b.stars[1] ?? "";
  return [
    b.answer ? h("p", { class: "big-words", key: "told" }, b.answer) : null,
    b.start_again ? answer("One of the two was probably another star.") : null,
    b.start_again ? big("Start again from the stop", fromTheStop, { key: "again" }) : null,
    mistakes(b),
    b.start_again ? h("p", { key: "look" }, `Or look back: choose ${last} on the controller, as an object. Do not touch the tube.`)
      : answer(`Look back: choose ${last} on the controller, as an object. Do not touch the tube.`),
    h("button", { type: "button", class: b.start_again ? "" : "next", key: "next", id: "looked-back", ...pressed((at) => askLeft({ star: last, chosen: "", what: last, at, az: null })) }, "It shows what is left"),
    b.mistakes.length && !b.start_again ? button("Start again from the stop", fromTheStop, { key: "again" }) : null,
    h("p", { key: "why" }, "It tells how your controller treats its two stars. It takes five seconds, and no more than one look a night."),
    told(b),
    button("Go on without it", () => go("find"), { key: "without", class: "quiet" }),
  ];
}

/** @param {BesideRecord} b */
const ready = (b) => [
  answer(b.answer),
  b.start_again ? big("Start again from the stop", fromTheStop, { key: "again" }) : null,
  mistakes(b),
  b.start_again ? button("Find an object", () => go("find"), { key: "next" }) : big("Find an object", () => go("find"), { key: "next" }),
  told(b),
  h("div", { class: "row", key: "others" },
    button("Type the number anew", () => { ui.numberAgain = true; redraw(); }),
    b.start_again ? null : button("Start again from the stop", fromTheStop)),
];

function fromTheStop() {
  ui.stopAgain = true;
  redraw();
  scrollTo(0, 0);
}

/** @param {BesideRecord} b */
export const back = (b) => b.takes_back
  ? button(`Take back: ${b.takes_back}`, () => { ui.restUntil = 0; act("controller_back", {}); }, { class: "quiet", key: "back" })
  : null;

/**
 * @param {Picture} state
 * @param {BesideRecord} b
 */
export function sight(state, b) {
  anchor(state, b);
  if (rehearsing()) return rehearsal(b);
  if (leftWaiting()) return [queue(), simulated(state, "", b), leftForm()];
  const at = ui.stopAgain ? "upright" : step(b);
  if (at === "kit" || ui.boxAgain) return kitPages(state, b);
  const body = at === "pair" ? [answer("First choose two stars of its list."), big("Choose the stars", () => go("prepare"), { key: "next" })]
    : at === "upright" ? upright(state, b)
    : at === "first" ? star(state, b, 0)
    : at === "second" ? star(state, b, 1)
    : at === "number" ? number(b)
    : at === "look_back" ? lookBack(b)
    : ui.numberAgain ? again(b)
    : ready(b);
  const now = ui.numberAgain ? "" : at;
  fromTheTop(now);
  return [queue(), simulated(state, now, b), body, back(b), at === "upright" || at === "find" ? eyepieceRow(state) : null];
}

let stood = ""; // the step that the screen last asked for

/** Another step is another screen, and the thumb has scrolled down to the last one's button. @param {string} at */
function fromTheTop(at) {
  if (stood && at !== stood) requestAnimationFrame(() => scrollTo(0, 0));
  stood = at;
}

/** @param {BesideRecord} b */
const again = (b) => [
  amount("shown-number", "The number, without its sign", [["Minus", -1], ["Plus", 1]], (size, side) => `${side === "Plus" ? "+" : "−"}${size}`, (n) => {
    ui.numberAgain = false;
    record("controller_entry", { event: "number", number_deg: n }, now(), numberSaved(n));
  }),
  button("Leave it", () => { ui.numberAgain = false; redraw(); }, { key: "leave" }),
];

// ---- the clock since the stop

let began = 0; // of the tap on the stop, on this page's steady clock
let anchored = "";

/**
 * @param {Picture} state
 * @param {BesideRecord} b
 */
function anchor(state, b) {
  const waits = store.queue.find((q) => q.name === "controller_entry" && q.body.event === "upright");
  if (waits && waits.at.origin === performance.timeOrigin) {
    began = waits.at.mono;
    anchored = "";
    return;
  }
  const key = `${b.upright_unix_ms}`;
  if (b.upright_unix_ms === null || key === anchored) return;
  anchored = key;
  began = performance.now() - (state.server_unix_ms - b.upright_unix_ms);
}

/** @param {number} [from] */
export function since(from = began) {
  const s = Math.max(0, Math.floor((performance.now() - from) / 1000));
  return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")}`;
}

setInterval(() => {
  const el = document.getElementById("since");
  const text = since(rehearsing()?.began);
  if (el && el.textContent !== text) el.textContent = text;
}, 250);
