// Circles read by eye: a press keeps its moment, then both readings are asked for.

import { h } from "./dom.js";
import { circlesShown } from "./circlesshown.js";
import { act, discard, keep, load, record, say, store } from "./store.js";
import { big, button, entry, redraw, typedNumber, ui } from "./parts.js";
import { capital } from "./words.js";

const PENDING = "plumbstar.pending-sighting";

/** A press that waits for its two readings. @type {Unread | null} */
let pending = load(PENDING, null);

/** Whether one waits. */
export const waiting = () => pending !== null;

/** At the head of a line; a name begins as it is written (α Tuc). @param {string} what */
const titled = (what) => what.startsWith("a ") ? capital(what) : what;

/** @param {Unread | null} press */
function wait(press) {
  pending = press;
  keep(PENDING, pending);
  ui.padFor = "";
  redraw();
  if (press) scrollTo(0, 0);
}

/**
 * A press of "centred": its moment is kept, whatever is typed later.
 * @param {Unread} press
 */
export function ask(press) {
  wait(press);
  say(`${titled(press.what)}: the moment is kept. Now type what the circles read.`);
}

/**
 * A press that the server refused for its readings: they are asked for again, for the same moment.
 * @param {Queued} q
 */
export function askAgain(q) {
  if (q.name === "controller_entry") return;
  wait({ name: q.name, star: q.body.star ?? "", target: q.target, what: q.what, at: q.at });
  discard(q.id);
}

/**
 * Answer what is asked about a press that cannot be what it says.
 * @param {Actions["answer_doubt"]} body
 */
export async function settle(body) {
  const done = await act("answer_doubt", body, body.save ? "" : "Dropped. Nothing was saved.");
  if (done?.sighting_id) {
    store.saved[body.id] = done.sighting_id;
    say("Saved, as of the press.");
  }
  return done;
}

/**
 * The readings of a press that is asked about were typed wrongly: again, for the same moment.
 * @param {DoubtRecord} d
 */
export const readAnew = (d) => wait({ name: "sight", star: d.star, target: "", what: d.star, at: { mono: 0, origin: 0, wall: 0 }, doubt: d.id });

/** Whether that is what the form asks for. @param {DoubtRecord} d */
export const readingAnew = (d) => pending?.doubt === d.id;

/**
 * A press refused for its readings, which were typed the wrong way round: so, or null.
 * @param {Queued} q
 */
export function otherWay(q) {
  const r = q.body.reading;
  // What the two circles can show: encoders/typed.py.
  return q.wants === "readings" && r && q.name !== "controller_entry"
    && r.az_deg >= -20 && r.az_deg <= 180 && r.alt_deg >= 0 && r.alt_deg <= 360
    ? { az_deg: r.alt_deg, alt_deg: r.az_deg } : null;
}

/** The same press with them exchanged. @param {Queued} q */
export function exchange(q) {
  const reading = otherWay(q);
  if (!reading) return;
  const body = /** @type {any} */ ({ ...q.body, reading });
  const id = record(q.name, body, q.at, q.what, q.target);
  if (ui.foundPress === q.id) ui.foundPress = id;
  discard(q.id);
}

/** The two readings of the press that waits. @param {Picture} state */
export function readingsForm(state) {
  if (!pending) return null;
  const asked = pending.doubt;
  return h("div", { key: "readings" },
    h("p", { class: pending.name === "sight" ? "star-name" : "target-name" }, titled(pending.what)),
    h("p", { class: "big-words" }, "The moment is kept. What do the circles read?"),
    circlesShown(state, true),
    entry("read-az", "Azimuth circle, degrees", {}, "number"),
    entry("read-alt", "Altitude circle, degrees", {}, "number"),
    big("Save the sighting", save, { key: "save" }),
    asked ? button("Back to the question", () => wait(null), { key: "back", class: "quiet" }) : null,
    button("Throw this tap away", () => { ui.restUntil = 0; wait(null); asked ? settle({ id: asked, save: false }) : say("Thrown away."); }, { key: "drop", class: "quiet" }));
}

function save() {
  const reading = { az_deg: typedNumber("read-az"), alt_deg: typedNumber("read-alt") };
  if (!Number.isFinite(reading.az_deg) || !Number.isFinite(reading.alt_deg)) {
    return say("Both readings must be numbers, as 213.4.", true);
  }
  const p = pending;
  if (!p) return;
  if (p.doubt) {
    settle({ id: p.doubt, save: true, reading }).then((done) => done && wait(null)); // refused: the form stays
    return;
  }
  wait(null);
  say(""); // what was said of the moment is done with
  scrollTo(0, 0);
  if (p.name === "sight") record("sight", { star: p.star, reading }, p.at, p.what);
  else {
    ui.foundFor = p.target;
    ui.foundPress = record("here_centred", { reading }, p.at, p.what, p.target);
  }
}
