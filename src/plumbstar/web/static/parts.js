// Pieces that several screens share.

import { h } from "./dom.js";
import { act, get, instant, keep, load, store } from "./store.js";
import { facingWords, skyMap } from "./sky.js";
import { round360, shownAlt, shownAz } from "./words.js";

/** What this phone alone remembers: how it is dressed, not what was observed. */
export const ui = Object.assign(
  {
    dress: "night", lamp: 3, text: 100, beep: false, speech: false, ownKeys: true,
    facing: null, follow: false, agendaHours: 3, agendaKind: "all", agendaHardest: "hard", agendaNew: false,
    learner: false, offered: false, learnt: [],
  },
  load("plumbstar.dress", {}),
);
const KEPT = Object.keys(ui);
export const keepUi = () => keep("plumbstar.dress", Object.fromEntries(KEPT.map((k) => [k, ui[k]])));

/** Which way the observer faces: as turned, or else toward the noon side of the sky. */
export const facing = () => ui.facing ?? (store.state?.site?.lat_deg < 0 ? 0 : 180);

let draw = () => {};
export const setRedraw = (fn) => (draw = fn);
export const redraw = () => draw();

export const go = (view) => {
  if (location.hash === `#${view}`) redraw();
  else location.hash = view;
};

export const button = (label, onclick, props = {}) =>
  h("button", { type: "button", onclick, ...props }, label);

let pressedAt = null;

/**
 * The handlers of a button whose moment counts: that of the press, not of the lifting of the finger.
 * `done(at)` gets it.
 */
export const pressed = (done) => ({
  onpointerdown: (e) => (pressedAt = instant(e)),
  onkeydown: (e) => {
    if ((e.key === " " || e.key === "Enter") && !e.repeat) pressedAt = instant(e);
  },
  onclick: (e) => {
    const at = pressedAt && performance.now() - pressedAt.mono < LONGEST_PRESS_MS ? pressedAt : instant(e);
    pressedAt = null;
    done(at);
  },
});
const LONGEST_PRESS_MS = 10_000; // a click that follows no press of our own has its own moment

/** The next action: the largest thing on its screen. */
export const big = (label, onclick, props = {}) =>
  h("button", { type: "button", class: "next", onclick, ...props }, label);

export const toggle = (label, on, set, hint = "") =>
  h(
    "button",
    { type: "button", class: "toggle", role: "switch", "aria-checked": on ? "true" : "false", onclick: () => set(!on) },
    h("span", { class: "mark", "aria-hidden": "true" }),
    h("span", {}, label, hint && h("small", {}, hint)),
  );

/** One of several: radio buttons that look like a row of stops. */
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

/** A part of a page that opens and shuts; it remembers which. */
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

function type(id, text) {
  const field = document.getElementById(id);
  if (!field) return;
  field.value = text === null ? field.value.slice(0, -1) : field.value + text;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

function keys(id, kind) {
  const list =
    kind === "number"
      ? [..."123456789", ".", "0", "−"]
      : kind === "code"
        ? CODE
        : kind === "numbers"
          ? [..."123456789", ".", "0", "−", " "]
          : ["M ", "NGC ", "IC ", ...DIGITS, ...LETTERS, " "];
  const names = { " ": "Space", "−": "Minus", ".": "Point" };
  // Keeping the finger's press from moving the focus leaves the field in charge.
  const hold = (e) => e.preventDefault();
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
    h("button", { type: "button", class: "key wide", tabindex: -1, "aria-label": "Rub out the last", onpointerdown: hold, onclick: () => type(id, null) }, "rub out"),
    h("button", { type: "button", class: "key wide", tabindex: -1, onpointerdown: hold, onclick: () => ((ui.padFor = ""), redraw()) }, "close keys"),
  );
}

/** A field with its label, and keys of our own below it if wanted. kind: text, number, numbers (with spaces), code, or plain (the phone's own keyboard). */
export function entry(id, label, props = {}, kind = "text", between = null) {
  const own = ui.ownKeys && kind !== "plain";
  return h(
    "div",
    { class: `entry ${kind}`, key: `entry-${id}` },
    h("label", { for: id }, label),
    h("input", {
      id, type: "text", autocomplete: "off", autocapitalize: "off", spellcheck: "false",
      inputmode: own ? "none" : kind === "number" ? "decimal" : "text",
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

export const fieldValue = (id) => (document.getElementById(id)?.value ?? "").trim();

/** A number somebody typed, or NaN: a comma counts as a point. */
export const numberIn = (typed) => {
  const text = typed.replace(",", ".").replace("−", "-").replace(/[°\s]/g, "");
  return text === "" ? NaN : Number(text);
};
export const typedNumber = (id) => numberIn(fieldValue(id));

// ---- the map

const map = skyMap();
let mapData = null;
let mapFor = "";
let asking = false;

function wanted(state) {
  const c = state.choice || {};
  return JSON.stringify([
    state.fix && state.fix.mean_hit_chance, state.fix && state.fix.sentence, c.status,
    (state.plan || []).map((p) => p.star), state.sightings.length, state.kit && state.kit.eyepiece, state.skyline && state.skyline.text, state.site,
  ]);
}

async function refreshMap() {
  if (asking || !store.state) return;
  const want = wanted(store.state);
  if (want === mapFor) return;
  asking = true;
  try {
    mapData = await get("/data/map");
    mapFor = want;
    const chosen = (store.state.plan || []).filter((p) => p.alt_deg > 0).map((p) => ({ name: p.star, az_deg: p.az_deg, alt_deg: p.alt_deg }));
    map.draw({ ...mapData, chosen });
    redraw();
  } catch {
    // The map is never the answer: without it the page still gives the numbers.
  } finally {
    asking = false;
  }
}

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
  const zero = store.state?.fix?.terms?.find((t) => /azimuth.?zero/.test(t.name));
  if (!r || r.az === null || r.az === undefined || !zero) return null;
  return round360(r.az + zero.value_deg);
}

export function mapLive() {
  if (!ui.follow) return;
  const az = tubeAzimuth();
  if (az === null || Math.abs(az - facing()) < 0.5) return;
  ui.facing = az;
  map.turnTo(az);
  const words = document.getElementById("facing-words");
  if (words) words.textContent = facingWords(az);
}

export function mapBlock(state) {
  refreshMap();
  const canFollow = tubeAzimuth() !== null;
  return h(
    "section",
    { class: "map", key: "map", "aria-labelledby": "map-title" },
    h("h2", { id: "map-title" }, "The sky as you stand"),
    h("p", { id: "facing-words", class: "facing" }, facingWords(facing())),
    h("div", { class: "map-box", raw: true, key: "map-box", ref: (el) => (el.append(map.node), map.turnTo(facing())) }),
    mapData && mapData.cells.length === 0 ? null : h("div", { class: "legend", "aria-hidden": "true" },
      h("span", { class: "dot d3" }), " 1 in 4 ", h("span", { class: "dot d6" }), " 1 in 2 ", h("span", { class: "dot d9" }), " 9 in 10 in the field"),
    h("div", { class: "row" },
      button("Turn left", () => face(facing() - 30)),
      button("Turn right", () => face(facing() + 30))),
    h("label", { class: "slide" }, h("span", {}, "Facing"),
      h("input", { type: "range", min: 0, max: 359, step: 1, value: Math.round(facing()), "aria-valuetext": facingWords(facing()), oninput: (e) => face(Number(e.target.value)) })),
    canFollow
      ? toggle("Turn with the telescope", ui.follow, (on) => { ui.follow = on; keepUi(); redraw(); })
      : null,
    mapData ? h("p", {}, map.node.getAttribute("aria-label")) : h("p", {}, "Drawing the sky…"),
  );
}

// ---- small common things

/** The answer: large, but a long sentence less so. */
export const answer = (text, props = {}) =>
  h("p", { class: (text || "").length > 110 ? "answer long" : "answer", key: "answer", ...props }, text);

/** Short sentences under one another, or nothing. */
export const bullets = (list) =>
  list.length ? h("ul", { class: "cautions", key: "bullets" }, list.map((text) => h("li", { key: text }, text))) : null;

export const eyepieceRow = (state, legend = "Eyepiece in use") =>
  state.kit && state.kit.eyepieces.length > 1
    ? choiceRow("eyepiece", legend,
        state.kit.eyepieces.map((e) => [e.name, h("span", {}, e.name, h("small", {}, `${+e.field_deg.toFixed(2)}° field`))]),
        state.kit.eyepiece, (name) => act("set_eyepiece", { name }, `Eyepiece: ${name}.`))
    : null;

export const undoButton = (state) =>
  state.undo
    ? button(state.undo.button, () => act("undo", {}, "Undone."), { class: "quiet", key: "undo", title: state.undo.words })
    : null;

export const readingText = (r) =>
  r && r.az !== null && r.az !== undefined && r.alt !== null && r.alt !== undefined
    ? `${shownAz(store.state, r.az).toFixed(2)}° az · ${shownAlt(store.state, r.alt).toFixed(2)}° alt`.replace("-", "−")
    : "no reading";

export const usable = (r) => Boolean(r && (r.state === "live" || r.state === "typed") && !store.silent);
