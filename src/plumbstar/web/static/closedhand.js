// In a rehearsal beside a closed controller: its display, and what the hands do. At a real one both are real.

import { h } from "./dom.js";
import { act, say } from "./store.js";
import { button, redraw } from "./parts.js";

/** @type {ControllerShown | null} */
let shown = null;
let asked = false;
let busy = false;

/** @param {Actions["controller_hand"]["orders"]} orders */
async function hands(...orders) {
  if (busy) return;
  busy = true;
  redraw();
  const done = await act("controller_hand", { orders });
  busy = false;
  if (done) {
    shown = done;
    if (done.error) say(done.error, true);
  }
  redraw();
}

/**
 * One thing after another: while the hands are busy no other is begun.
 * @param {string} what
 * @param {Actions["controller_hand"]["orders"]} orders
 */
const deed = (what, ...orders) => button(what, () => hands(...orders), { disabled: busy });

/**
 * What the hands would do at this step; nothing where there is nothing to do but to read.
 * @param {string} at the step
 * @param {BesideRecord} b
 * @param {TargetRecord | null} t
 * @returns {Kids}
 */
function deeds(at, b, t) {
  const [first, second] = b.stars;
  if (at === "upright") return deed("Tube to the stop, switch it on", { do: "upright" });
  if (at === "first" || at === "second") {
    const star = at === "first" ? first : second;
    return [
      deed(`Centre ${star}, and take it on the controller`, { do: "centre", name: star }, { do: "star", name: star }),
      // Noted here, and not done there: without it the display would wait for ever.
      shown?.error ? deed("Tube to the stop, switch it on", { do: "upright" }) : null,
    ];
  }
  if (at === "look_back") return deed(`Choose ${second} as an object`, { do: "object", name: second });
  const p = b.push;
  if (at !== "find" || !t || !p) return null;
  const s = p.sweep, to = s ?? p;
  const zero = [{ do: "object", name: p.from_name, look_for: t.name }, { do: "zero", look_for: t.name }];
  return [
    deed(`Choose ${p.from_label || p.from_name}, push until it shows zero`, ...zero),
    deed("And push on, as above", ...zero, { do: "push", right_deg: to.push_az_deg, up_deg: to.push_alt_deg, look_for: t.name }),
    deed("It is in the field: centre it", { do: "centre", name: t.name, look_for: t.name }),
  ];
}

/**
 * @param {Picture} state
 * @param {string} at the step
 * @param {BesideRecord} b
 */
export function simulated(state, at, b) {
  if (!state.rehearsal?.controller) return null;
  if (!asked) {
    asked = true;
    hands({ do: "look" });
  }
  const done = deeds(at, b, state.target);
  // Where it is only to be read it stays above the keys: both are wanted at once.
  return h("section", { key: "simulated", class: done ? "simulated" : "simulated only-read", "aria-label": "The simulated controller" },
    done ? h("p", { class: "note" }, "The simulated controller shows:") : null,
    h("p", { class: "display", "aria-live": "polite" }, shown ? `${shown.top}\n${shown.bottom}` : "…"),
    done && shown?.eye ? h("p", {}, shown.eye) : null,
    done ? h("p", { class: "note" }, "What your hands would do, a press does here:") : null,
    done);
}
