// Beside a closed controller: its numbers, typed one at a time. The side is pressed, never typed.

import { h } from "./dom.js";
import { keep, load, record, say } from "./store.js";
import { answer, button, entry, numberIn, redraw, ui } from "./parts.js";

const PENDING = "plumbstar.pending-left";

/** What was centred, its moment kept, while the two numbers are typed. @type {Centred | null} */
let pending = load(PENDING, null);
/** The field whose keys were opened by themselves. */
let opened = "";

/** Whether two numbers are still to be typed. */
export const leftWaiting = () => pending !== null;

/** @param {Centred | null} press */
function wait(press) {
  pending = press;
  keep(PENDING, pending);
  opened = "";
  ui.padFor = "";
  redraw();
  scrollTo(0, 0);
}

/**
 * Something is in the middle: its moment is kept, whatever is typed later.
 * @param {Centred} press
 */
export const askLeft = (press) => {
  say(""); // what was said of the screen before does not belong to this one
  wait(press);
};

/** What has been typed so far: a screen drawn anew in the middle loses nothing. @type {Record<string, string>} */
const typed = {};

/**
 * One number without its sign, and a button for each side it may have.
 * @param {string} id
 * @param {string} label
 * @param {[string, number][]} sides
 * @param {(size: number, side: string) => string} words
 * @param {(value: number) => void} done
 */
export function amount(id, label, sides, words, done) {
  if (opened !== id) {
    opened = id;
    ui.padFor = id;
  }
  const size = Math.abs(numberIn(typed[id] ?? ""));
  return h("div", { key: id },
    entry(id, label, { value: typed[id] ?? "", oninput: (e) => { typed[id] = e.target.value; redraw(); } }, "amount"),
    h("div", { class: "row sides" }, sides.map(([side, sign]) =>
      h("button", { type: "button", class: "next", key: side, onclick: () => {
        const now = Math.abs(numberIn(typed[id] ?? ""));
        if (!Number.isFinite(now)) return say("Type the number first: 0 if it shows nought.", true);
        typed[id] = "";
        opened = ui.padFor = "";
        say("");
        done(now === 0 ? 0 : sign * now);
      } }, Number.isFinite(size) ? words(size, side) : side))),
    button("It shows 0", () => {
      typed[id] = "";
      opened = ui.padFor = "";
      say("");
      done(0);
    }, { key: "nought" }));
}

/** The two numbers of what was centred, or null where none wait. */
export function leftForm() {
  const p = pending;
  if (!p) return null;
  const of = p.chosen ? `${p.chosen} stays chosen on the controller. ` : "";
  const drop = button("Throw this tap away", () => { wait(null); say("Thrown away."); }, { key: "drop", class: "quiet" });
  const kept = h("p", { key: "kept" }, `${p.what}: the moment is kept. ${of}Read both numbers now, then type.`);
  const words = (/** @type {number} */ size, /** @type {string} */ side) => `${size}° ${side.toLowerCase()}`;
  if (p.az === null) {
    return h("div", { key: "left-az-screen" },
      answer("How far sideways does it still want to go?"), kept,
      amount("left-az", "Degrees, without a sign", [["Left", -1], ["Right", 1]], words, (az) => wait({ ...p, az })), drop);
  }
  return h("div", { key: "left-alt-screen" },
    answer("And how far up or down?"), kept,
    amount("left-alt", "Degrees, without a sign", [["Down", -1], ["Up", 1]], words, (alt) => {
      wait(null);
      record("controller_entry", { event: "centred", star: p.star, left_az_deg: p.az, left_alt_deg: alt, chosen: p.chosen }, p.at, `what is left at ${p.what}`);
    }),
    button("Back to sideways", () => wait({ ...p, az: null }), { key: "sideways", class: "quiet" }), drop);
}
