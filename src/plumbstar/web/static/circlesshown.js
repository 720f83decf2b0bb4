// In a rehearsal: what the simulated eyepiece shows, and the circles where they are read by eye. At a real telescope all are real.

import { h } from "./dom.js";
import { get, whyNot } from "./store.js";
import { redraw } from "./parts.js";

const EACH_MS = 1000;

/** @type {CirclesAnswer | null} */
let shown = null;
let problem = "";
let timer = 0; // one at a time: 0 while none is under way
let lookedAt = -Infinity;
let kept = false; // a press waits for its readings: those of its moment stay

async function look() {
  try {
    const now = await get("/data/circles");
    if (!kept || !shown) shown = now;
    problem = "";
  } catch (e) {
    problem = whyNot(e);
  }
  lookedAt = performance.now();
  timer = 0;
  redraw();
}

/**
 * @param {string} name
 * @param {number} deg
 */
const figure = (name, deg) => h("span", { key: name }, `${name} ${deg.toFixed(Number.isInteger(+(deg * 10).toFixed(4)) ? 1 : 2)}°`.replace("-", "−"));

/**
 * The eyepiece, and both circles; while a press waits for its readings, as they were at the press.
 * @param {Picture} state
 * @param {boolean} [waits] a press does
 */
export function circlesShown(state, waits = false) {
  const { circles, eyepiece } = state.rehearsal ?? {};
  if (!eyepiece) return null;
  kept = waits;
  if (!timer && !(kept && shown)) timer = window.setTimeout(look, Math.max(0, lookedAt + EACH_MS - performance.now()));
  const seen = problem ? h("p", {}, problem) : kept ? null : h("p", { "aria-live": "polite" }, shown?.eye || "…");
  if (!circles) return h("div", { key: "circles-shown", id: "simulated-eye" }, seen); // no more than a line: the button is to stay in sight
  return h("section", { key: "circles-shown", class: "simulated only-read", "aria-label": "The simulated telescope" },
    h("p", { class: "note" }, kept ? "At your tap the simulated circles showed" : "The simulated circles show"),
    h("p", { class: "display circles" }, shown ? [figure("azimuth", shown.az_deg), " ", figure("altitude", shown.alt_deg)] : "…"),
    seen);
}
