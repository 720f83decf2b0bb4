// The upright stop: most encoders count from zero where they were switched on, so it is told once.

import { h } from "./dom.js";
import { act, store } from "./store.js";
import { button, section, usable } from "./parts.js";

/** @param {string} id */
export const tell = (id = "on-stop") =>
  button("The tube is on the stop now", () => act("tube_on_stop", {}, "The altitude reads 90° on the stop from now on."), { id });

/**
 * The altitude that the encoders read, where it must be asked what it means; else null.
 * @param {Picture} state
 */
function asksAt(state) {
  const s = state.stop;
  const r = store.reading;
  if (!s || !s.asks || !r || !usable(r) || r.alt_reading_deg === null) return null;
  return s.below_deg === null || r.alt_reading_deg < s.below_deg ? r.alt_reading_deg : null;
}

/**
 * Before the first star, where it must be asked: nothing can be sighted until it is answered.
 * @param {Picture} state
 */
export function stopQuestion(state) {
  const alt = asksAt(state);
  if (alt === null || !state.stop || state.doubts[0]?.stop_untold) return null; // asked above
  return h("section", { key: "stop", class: "upright-stop" },
    h("h2", {}, "Is the tube on its upright stop?"),
    h("p", {}, `The altitude reads ${alt.toFixed(0)}°. ${state.stop.sentence}`.replace("-", "−")),
    tell());
}

/**
 * Else a fold that says what holds.
 * @param {Picture} state
 */
export const stopFold = (state) =>
  !state.stop || asksAt(state) !== null ? null : section("stop", "The upright stop", "", h("p", {}, state.stop.sentence), tell());
