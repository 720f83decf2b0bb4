// The three steps in the armchair: no telescope, no sky, only hands and a clock. Times are kept.

import { h } from "./dom.js";
import { act, say } from "./store.js";
import { answer, big, button, redraw } from "./parts.js";
import { eye, since } from "./beside.js";

/** @type {{ began: number; taps: number } | null} */
let now = null;

/** The rehearsal under way, or null. */
export const rehearsing = () => now;

export function rehearse() {
  now = { began: 0, taps: 0 };
  say("");
  redraw();
  scrollTo(0, 0);
}

const STEPS = [["On the stop", "Lift the tube to the stop, switch on, and tap."], ["Centred", "Lower it, centre the first star, and tap."], ["Centred", "Push to the second star, centre it, and tap."]];

/** @param {Pressed} at */
function tap(at) {
  if (!now) return;
  if (now.taps === 0) now.began = at.mono;
  now.taps += 1;
  if (now.taps === 3) act("controller_rehearsed", { seconds: Math.round((at.mono - now.began) / 100) / 10 });
  redraw();
}

/** @param {number} seconds */
const span = (seconds) => (seconds < 60 ? `${Math.round(seconds)} s` : `${Math.floor(seconds / 60)} min ${Math.round(seconds % 60)} s`);

/** @param {BesideRecord} b */
export function rehearsal(b) {
  if (!now) return null;
  const kept = b.rehearsed_s;
  const stop = button("End the rehearsal", () => { now = null; redraw(); scrollTo(0, 0); }, { key: "stop", class: "quiet" });
  const caution = h("p", { class: "warning", key: "caution" }, "A rehearsal: nothing of it goes into the log. By day the caps stay on the telescope and on the finder, and the tube stays away from the Sun.");
  if (now.taps >= 3) {
    const last = kept.length ? kept[kept.length - 1] : null;
    return h("div", { key: "rehearsed" },
      answer(last === null ? "Done." : `${span(last)} from the stop to the second star.`),
      h("p", { class: "big-words", key: "best" }, kept.length > 1 ? `Your best of ${kept.length}: ${span(Math.min(...kept))}.` : last !== null && last <= 30 ? "Quick enough." : "Once more, and you will be quicker."),
      big("Once more", rehearse, { key: "next" }),
      h("p", { key: "cost" }, b.slow_hands), stop, caution);
  }
  const [word, what] = STEPS[now.taps];
  return h("div", { key: "rehearsal" },
    answer(what),
    now.taps ? h("p", { class: "clock", key: "clock" }, h("strong", { id: "since" }, since(now.began)), " since the stop") : null,
    eye(word, `${word}: a rehearsal`, tap),
    caution, stop);
}
