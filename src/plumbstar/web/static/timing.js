// Which clock to believe: what the computer doubts of its own, how this phone's differs, and what
// was timed by the wrong one. Nothing is changed without a press.

import { h } from "./dom.js";
import { act, get } from "./store.js";
import { button, redraw } from "./parts.js";
import { screenName } from "./sunquestion.js";
import { second } from "./words.js";

const AGAIN_MS = 600_000; // a phone's clock does not drift much in ten minutes
const SAME_MS = 4000; // "keep the computer's time" holds for about this difference
const TRIES = 3;

/** @type {number | null} */
let trip = null; // the shortest way there and back of late, ms
/** @type {ClockFinding | null} */
let finding = null; // how this phone's clock differs, by the server's word
let off = 0; // by how much, ms
/** @type {number | null} */
let declined = null;
let asking = false;

/** Ask the server how this phone's clock stands to its own; the quickest of three is the surest. */
export async function compareClocks() {
  if (asking) return;
  asking = true;
  try {
    /** @type {{ took: number; said: ClockAnswer; off: number } | null} */
    let best = null;
    for (let k = 0; k <= TRIES; k += 1) {
      const began = performance.now();
      const sent = Date.now();
      const query = trip === null ? "" : `?phone_ms=${sent}&round_trip_ms=${trip.toFixed(1)}&phone=${screenName()}`;
      const said = await get("/data/clock", query);
      const took = performance.now() - began;
      if (k && (!best || took < best.took)) best = { took, said, off: sent + took / 2 - said.server_ms };
      trip = trip === null ? took : Math.min(took, trip * 1.5);
    }
    if (!best) return;
    finding = best.said.finding;
    off = best.off;
    redraw();
  } catch {
    // the link is bad: asked again later
  } finally {
    asking = false;
  }
}

setInterval(compareClocks, AGAIN_MS);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && compareClocks());

/** @param {number} ms */
const stranger = (ms) => Math.abs(ms) > 12 * 3600_000;

async function usePhone() {
  const reply = await act("use_phone_time", { phone_ms: Date.now(), round_trip_ms: trip ?? 0, phone: screenName() });
  if (reply) {
    finding = null;
    declined = null;
  }
  redraw();
  compareClocks();
}

/** @param {Picture} state */
function consent(state) {
  const now = Date.now();
  const dated = stranger(off);
  return `This phone says ${second(state, now, dated)}, the telescope’s computer ${second(state, now - off, dated)}. If you agree, tonight’s pages go by this phone’s time. The computer’s own clock and what is saved stay as they are.`;
}

/** @param {ClockFinding} f */
const says = (f) => h("p", {}, h("strong", {}, f.sentence), ` ${f.remedy}`);

/**
 * What there is to say of the clock, weightiest first.
 * @param {Picture} state
 * @returns {Tree[]}
 */
export function timingBanners(state) {
  const t = state.timing;
  if (!t || !t.compare) return [];
  const doubts = t.findings || [];
  const phone = finding && (declined === null || Math.abs(off - declined) > SAME_MS) ? finding : null;
  const out = [];
  if (doubts.length || phone) {
    out.push(h("div", { class: "banner", key: "clock", id: "clock-doubt" },
      doubts.map(says),
      !doubts.length && phone ? says(phone) : null,
      finding ? h("p", {}, consent(state)) : null,
      finding ? button("Use this phone’s time", usePhone) : null,
      doubts.length && !finding
        ? h("p", {}, "This phone’s clock says the same.")
        : null,
      doubts.length
        ? button("The computer’s clock is right", () => act("clock_is_right", {}))
        : button("Keep the computer’s time", () => { declined = off; redraw(); })));
  }
  const offer = t.offer;
  if (offer) {
    out.push(h("div", { class: "banner", key: "times", id: "times-offer" },
      h("p", {}, h("strong", {}, offer.sentence)),
      h("p", {}, "The stars’ places are worked out anew and the fix is solved again. The times first saved are kept, and Undo takes the correction back."),
      button(offer.count === 1 ? "Correct it" : "Correct them", () => act("correct_times", { count: offer.count, by: offer.by })),
      button("Leave as saved", () => act("leave_times", {}))));
  }
  return out;
}
