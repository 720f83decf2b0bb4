// Pieces that several screens share.

import { h } from "./dom.js";
import { act, get, instant, keep, load, say, store } from "./store.js";
import { facingWords, GOOD, skyMap } from "./sky.js";
import { hour, round360, shownAlt, shownAz } from "./words.js";

/** What this phone alone remembers: how it is dressed, not what was observed. @type {Ui} */
export const ui = Object.assign(
  {
    dress: "night", dressAsked: false, lamp: 3, text: 100, beep: false, speech: false, ownKeys: true,
    facing: null, follow: false, agendaHours: 3, agendaKind: "all", agendaHardest: "hard", agendaNew: false,
    learner: false, offered: false, learnt: [],
  },
  load("plumbstar.dress", {}),
);
const KEPT = Object.keys(ui);
export const keepUi = () => keep("plumbstar.dress", Object.fromEntries(KEPT.map((k) => [k, ui[/** @type {keyof Ui} */ (k)]])));

/** Which way the observer faces: as turned, or else toward the noon side of the sky. */
export const facing = () => ui.facing ?? ((store.state?.site?.lat_deg ?? 0) < 0 ? 0 : 180);

let draw = () => {};
/** @param {() => void} fn */
export const setRedraw = (fn) => (draw = fn);
export const redraw = () => draw();

/** @type {(what: Partial<Ui>) => void} */
let change = () => {};
/** @param {(what: Partial<Ui>) => void} fn */
export const setWear = (fn) => (change = fn);
/** Change how the page is dressed. @param {Partial<Ui>} what */
export const wear = (what) => change(what);

/** @param {string} view */
export const go = (view) => {
  if (location.hash === `#${view}`) redraw();
  else location.hash = view;
};

/**
 * @param {Kids} label
 * @param {Handler} onclick
 * @param {Props} [props]
 */
export const button = (label, onclick, props = {}) =>
  h("button", { type: "button", onclick, ...props }, label);

/** @type {Pressed | null} */
let pressedAt = null;

/**
 * The handlers of a button whose moment counts: that of the press, not of the lifting of the finger.
 * `done(at)` gets it.
 * @param {(at: Pressed) => void} done
 */
export const pressed = (done) => ({
  onpointerdown: (/** @type {PointerEvent} */ e) => (pressedAt = instant(e)),
  onkeydown: (/** @type {KeyboardEvent} */ e) => {
    if ((e.key === " " || e.key === "Enter") && !e.repeat) pressedAt = instant(e);
  },
  onclick: (/** @type {MouseEvent} */ e) => {
    const at = pressedAt && performance.now() - pressedAt.mono < LONGEST_PRESS_MS ? pressedAt : instant(e);
    pressedAt = null;
    done(at);
  },
});
const LONGEST_PRESS_MS = 10_000; // a click that follows no press of our own has its own moment

/**
 * The next action: the largest thing on its screen.
 * @param {Kids} label
 * @param {Handler} onclick
 * @param {Props} [props]
 */
export const big = (label, onclick, props = {}) =>
  h("button", { type: "button", class: "next", onclick, ...props }, label);

/**
 * @param {Kids} label
 * @param {boolean} on
 * @param {(on: boolean) => void} set
 */
export const toggle = (label, on, set, hint = "") =>
  h(
    "button",
    { type: "button", class: "toggle", role: "switch", "aria-checked": on ? "true" : "false", onclick: () => set(!on) },
    h("span", { class: "mark", "aria-hidden": "true" }),
    h("span", {}, label, hint && h("small", {}, hint)),
  );

/**
 * One of several: radio buttons that look like a row of stops.
 * @param {string} name
 * @param {Kids} legend
 * @param {[string, Kids][]} options
 * @param {string} chosen
 * @param {(value: string) => void} pick
 */
export function choiceRow(name, legend, options, chosen, pick) {
  return h(
    "fieldset",
    { class: "stops" },
    h("legend", {}, legend),
    options.map(([value, label]) =>
      h(
        "label",
        { key: value, class: value === chosen ? "stop on" : "stop" },
        h("input", { type: "radio", name, value, checked: value === chosen, onchange: () => pick(value) }),
        h("span", {}, label),
      ),
    ),
  );
}

/**
 * A part of a page that opens and shuts; it remembers which.
 * @param {string} id
 * @param {Kids} title
 * @param {Kids} short
 * @param {...Kids} kids
 */
export function section(id, title, short, ...kids) {
  const open = Boolean(ui[`open_${id}`]);
  return h(
    "section",
    { class: "fold", key: id },
    h(
      "h2",
      {},
      h(
        "button",
        {
          type: "button", class: "fold-button", "aria-expanded": open ? "true" : "false", "aria-controls": `fold-${id}`,
          onclick: () => {
            ui[`open_${id}`] = !open;
            redraw();
          },
        },
        h("span", { class: "fold-title" }, title),
        h("span", { class: "fold-short" }, short),
        h("span", { class: "fold-mark", "aria-hidden": "true" }),
      ),
    ),
    h("div", { id: `fold-${id}`, class: "fold-body", hidden: !open }, open ? kids : null),
  );
}

// ---- keys on the page: the phone's own keyboard is a bright white lamp

const LETTERS = [..."ABCDEFGHIJKLMNOPQRSTUVWXYZ"];
const DIGITS = [..."1234567890"];
const CODE = [..."ABCDEFGHJKMNPQRSTUVWXYZ23456789"]; // no 0, O, 1, I, L: the server uses none

/**
 * @param {string} id
 * @param {string | null} text null takes the last away
 */
function type(id, text) {
  const typed = field(id);
  if (!typed) return;
  typed.value = text === null ? typed.value.slice(0, -1) : typed.value + text;
  typed.dispatchEvent(new Event("input", { bubbles: true }));
}

/**
 * @param {string} id
 * @param {string} kind
 */
function keys(id, kind) {
  const list =
    kind === "length"
      ? [..."123456789", ".", "0", " inch", " mm", "f/"]
      : kind === "amount"
      ? [..."123456789", ".", "0"]
      : kind === "number"
      ? [..."123456789", ".", "0", "−"]
      : kind === "code"
        ? CODE
        : kind === "numbers"
          ? [..."123456789", ".", "0", "−", " "]
          : ["M ", "NGC ", "IC ", ...DIGITS, ...LETTERS, " "];
  /** @type {Record<string, string>} */
  const names = { " ": "Space", "−": "Minus", ".": "Point" };
  // Keeping the finger's press from moving the focus leaves the field in charge.
  const hold = (/** @type {Event} */ e) => e.preventDefault();
  return h(
    "div",
    { class: `keys ${kind}`, role: "group", "aria-label": "Keys", key: `keys-${id}` },
    list.map((k) =>
      h(
        "button",
        {
          type: "button", key: k, class: k.length > 1 || k === " " ? "key wide" : "key", tabindex: -1,
          "aria-label": names[k] || k.trim(), onpointerdown: hold,
          onclick: () => type(id, k === "−" ? "-" : k),
        },
        k === " " ? "space" : k.trim(),
      ),
    ),
    h("button", { type: "button", class: "key wide", tabindex: -1, "aria-label": "Delete the last", onpointerdown: hold, onclick: () => type(id, null) }, "delete"),
    kind === "amount" || kind === "length" ? null : h("button", { type: "button", class: "key wide", tabindex: -1, onpointerdown: hold, onclick: () => ((ui.padFor = ""), redraw()) }, "close keys"),
  );
}

/**
 * A field with its label, and keys of our own below it if wanted. kind: text, number, amount (without a sign), length (in mm, inches or apertures), numbers (with spaces), code, or plain (the phone's own keyboard).
 * @param {string} id
 * @param {Kids} label
 * @param {Props} [props]
 * @param {string} [kind]
 * @param {Kids} [between]
 */
export function entry(id, label, props = {}, kind = "text", between = null) {
  const own = ui.ownKeys && kind !== "plain";
  return h(
    "div",
    { class: `entry ${kind}`, key: `entry-${id}` },
    h("label", { for: id }, label),
    h("input", {
      id, type: "text", autocomplete: "off", autocapitalize: "off", spellcheck: "false",
      inputmode: own ? "none" : kind === "number" || kind === "amount" ? "decimal" : "text",
      enterkeyhint: "done",
      ...props,
      onfocus: () => {
        if (ui.padFor !== id) {
          ui.padFor = id;
          redraw();
        }
      },
      onclick: () => {
        if (ui.padFor !== id) {
          ui.padFor = id;
          redraw();
        }
      },
    }),
    between,
    own && ui.padFor === id ? keys(id, kind) : null,
  );
}

/**
 * A field by its id.
 * @param {string} id
 */
export const field = (id) => /** @type {HTMLInputElement | null} */ (document.getElementById(id));

/** @param {string} id */
export const fieldValue = (id) => (field(id)?.value ?? "").trim();

/**
 * A number somebody typed, or NaN: a comma counts as a point.
 * @param {string} typed
 */
export const numberIn = (typed) => {
  const text = typed.replace(",", ".").replace("−", "-").replace(/[°\s]/g, "");
  return text === "" ? NaN : Number(text);
};
/** @param {string} id */
export const typedNumber = (id) => numberIn(fieldValue(id));

// ---- the map

const map = skyMap();
/** @type {MapAnswer | null} */
let mapData = null;
let mapFor = "";
let asking = false;

/** @param {Picture} state */
function wanted(state) {
  return JSON.stringify([
    state.fix && state.fix.mean_hit_chance, state.fix && state.fix.sentence, state.choice?.status,
    (state.plan || []).map((p) => p.star), state.sightings.length, state.kit && state.kit.eyepiece, state.skyline && state.skyline.text, state.site,
    ui.mapAt, state.now_utc.slice(0, 15), // the sky turns: anew every ten minutes
  ]);
}

async function refreshMap() {
  if (asking || !store.state) return;
  const want = wanted(store.state);
  if (want === mapFor) return;
  asking = true;
  try {
    mapData = await get("/data/map", ui.mapAt ? `?utc=${encodeURIComponent(ui.mapAt)}` : "");
    mapFor = want;
    map.draw(mapData);
    redraw();
  } catch {
    // The map is never the answer: without it the page still gives the numbers.
  } finally {
    asking = false;
  }
  if (store.state && wanted(store.state) !== mapFor && mapData) setTimeout(refreshMap, 200); // the hour was moved meanwhile
}

const STEP_MS = 600_000; // the sky turns by two and a half degrees

/**
 * Tonight's hours, to see where the stars will then stand; it opens at the time to sight.
 * @param {Picture} state
 */
function hours(state) {
  if (!mapData || !mapData.hours) return null;
  const from = Date.parse(mapData.hours.from_utc), until = Date.parse(mapData.hours.until_utc);
  const at = Date.parse(ui.mapAt ?? mapData.at_utc);
  const steps = Math.max(1, Math.floor((until - from) / STEP_MS));
  const words = hour(state, at, true);
  return h("label", { class: "slide", key: "hours" }, h("span", { id: "map-hour" }, `At ${words}`),
    h("input", { type: "range", id: "map-hours", min: 0, max: steps, step: 1, value: Math.max(0, Math.min(steps, Math.round((at - from) / STEP_MS))), "aria-label": "Tonight’s hours", "aria-valuetext": words,
      oninput: (e) => { ui.mapAt = new Date(from + Number(e.target.value) * STEP_MS).toISOString().slice(0, 19) + "Z"; redraw(); } }));
}

/**
 * What the shading means, or that there is none.
 * @param {MapAnswer} data
 */
const shading = (data) => !data.cells.length ? null
  : data.cells.some((c) => c.hit_chance < GOOD)
    ? h("div", { class: "legend", "aria-hidden": "true" },
        h("span", {}, "Shaded: fewer in the field."),
        ...[["d3", "75"], ["d6", "50"], ["d9", "10 in 100"]].map(([dot, n]) => h("span", { class: "step", key: dot }, h("span", { class: `dot ${dot}` }), ` ${n}`)))
    : h("p", { class: "legend" }, "Over 90 in 100 in the field, all over the sky.");


/** @param {number} az */
function face(az) {
  ui.facing = round360(az);
  ui.follow = false;
  keepUi();
  map.turnTo(facing());
  redraw();
}

/** Where the tube points, roughly: the reading and the azimuth zero the fix gives. */
function tubeAzimuth() {
  const r = store.reading;
  const zero = store.state?.fix?.terms?.find((t) => t.name === "azimuth_zero");
  if (!r || r.az_reading_deg === null || !zero || zero.value_deg === null) return null;
  return round360(r.az_reading_deg + zero.value_deg);
}

export function mapLive() {
  if (!ui.follow || !store.state) return;
  const az = tubeAzimuth();
  if (az === null || Math.abs(az - facing()) < 0.5) return;
  ui.facing = az;
  map.turnTo(az);
  const words = document.getElementById("facing-words");
  if (words) words.textContent = facingWords(store.state, az);
}

/**
 * @param {Picture} state
 * @param {boolean} [anyHour] with tonight's hours to move through
 */
export function mapBlock(state, anyHour = false) {
  if (!anyHour) ui.mapAt = undefined;
  refreshMap();
  const canFollow = tubeAzimuth() !== null;
  return h(
    "section",
    { class: "map", key: "map", "aria-labelledby": "map-title" },
    h("h2", { id: "map-title" }, "The sky as you stand"),
    h("p", { id: "facing-words", class: "facing" }, facingWords(state, facing())),
    mapData && mapData.later ? h("p", { class: "note", key: "later" }, `As it will be at ${hour(state, mapData.at_utc, true)}.`) : null,
    h("div", { class: "map-box", raw: true, key: "map-box", ref: (el) => (el.append(map.node), map.turnTo(facing())) }),
    mapData ? shading(mapData) : null,
    anyHour ? hours(state) : null,
    h("div", { class: "row" },
      button("Turn left", () => face(facing() - 30)),
      button("Turn right", () => face(facing() + 30))),
    h("label", { class: "slide" }, h("span", {}, "Facing"),
      h("input", { type: "range", min: 0, max: 359, step: 1, value: Math.round(facing()), "aria-valuetext": facingWords(state, facing()), oninput: (e) => face(Number(e.target.value)) })),
    canFollow
      ? toggle("Turn with the telescope", ui.follow, (on) => { ui.follow = on; keepUi(); redraw(); })
      : null,
    mapData ? h("p", {}, map.node.getAttribute("aria-label")) : h("p", {}, "Drawing the sky…"),
  );
}

// ---- small common things

/**
 * The answer: large, but a long sentence less so.
 * @param {string} text
 * @param {Props} [props]
 */
export const answer = (text, props = {}) =>
  h("p", { class: (text || "").length > 110 ? "answer long" : "answer", key: "answer", ...props }, text);

/**
 * Short sentences under one another, or nothing.
 * @param {string[]} list
 */
export const bullets = (list) =>
  list.length ? h("ul", { class: "cautions", key: "bullets" }, list.map((text) => h("li", { key: text }, text))) : null;

/** @param {Picture} state */
export const eyepieceRow = (state, legend = "Eyepiece in use") =>
  state.kit && state.kit.eyepieces.length > 1
    ? choiceRow("eyepiece", legend,
        state.kit.eyepieces.map((e) => [e.name, h("span", {}, e.name, h("small", {}, `${+e.field_deg.toFixed(2)}° field`))]),
        state.kit.eyepiece, (name) => act("set_eyepiece", { name }, `Eyepiece: ${name}.`))
    : null;

/**
 * Whether there is something to point by: a fix, or what a closed controller has shown.
 * @param {Picture} state
 */
export const canPoint = (state) => Boolean(state.fix || (state.beside && state.beside.number_deg !== null));

/** Sightings that were of other stars than they were called, entered anew. @param {WasAnotherRecord[]} others */
export async function enterAs(others) {
  if (await act("enter_as", { those: others.map((o) => ({ id: o.sighting_id, star: o.star })) })) say(`Entered as ${others.map((o) => o.star).join(" and ")}.`);
}

/** @param {Picture} state */
export const undoButton = (state) =>
  state.undo
    ? button(state.undo.button, () => { ui.restUntil = 0; act("undo", {}, "Undone."); }, { class: "quiet", key: "undo", title: state.undo.words })
    : null;

/** @param {ReadingRecord | null} r */
export const readingText = (r) =>
  r && r.az_reading_deg !== null && r.alt_reading_deg !== null
    ? `Turned ${shownAz(store.state, r.az_reading_deg).toFixed(2)}°, raised ${shownAlt(store.state, r.alt_reading_deg).toFixed(2)}°`.replace("-", "−")
    : "no reading";

/** @param {ReadingRecord | null} r */
export const usable = (r) => Boolean(r && (r.state === "live" || r.state === "typed") && !store.silent);
