// The night card: the evening on paper, on the phone without a server, in the calendar.

import { h } from "./dom.js";
import { keepFile, say, whyNot } from "./store.js";
import { button, redraw, section, toggle } from "./parts.js";

const FILES = [
  ["/card.html", "Card for this phone", "Opens without the telescope’s computer."],
  ["/card.pdf", "Card for paper", "A5, both sides."],
  ["/evening.ics", "Times for the calendar", "Sunset, dusk, dark, Moon, dawn, and each object."],
];
let making = ""; // the path asked for, while it is being made
let local = false; // times as on this phone instead of UTC

/**
 * The phone's offset that evening: "+01:00".
 * @param {string} utc
 */
function offset(utc) {
  const minutes = -new Date(utc || Date.now()).getTimezoneOffset();
  const size = Math.abs(minutes);
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  return `${minutes < 0 ? "-" : "+"}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}

/**
 * @param {string} path
 * @param {Picture} state
 */
async function fetchCard(path, state) {
  if (making) return;
  making = path;
  redraw();
  try {
    const zone = local ? `?zone=${encodeURIComponent(offset(state.now_utc))}` : "";
    say(`Kept as ${await keepFile(path + zone)}.`);
  } catch (e) {
    say(whyNot(e), true);
  }
  making = "";
  redraw();
}

/** @param {Picture} state */
export function cardSection(state) {
  return section(
    "card", "The night card", "to take along",
    h("p", {}, "Times, the best two stars hour by hour with drawings to know them by, what to look at (in the order of the Tonight page, if you have asked it), and room for readings: made for the night under way, or by day for the coming one."),
    toggle(`Times as on this phone (UTC${offset(state.now_utc)})`, local, (on) => { local = on; redraw(); }, `Otherwise ${state.clock?.zone || "UTC"}. Readings are typed in with UTC.`),
    h("ul", { class: "lines" }, FILES.map(([path, label, hint]) =>
      h("li", { key: path }, button(
        h("span", {}, h("strong", {}, making === path ? "Making it…" : label), hint ? h("small", {}, hint) : null),
        () => fetchCard(path, state), { class: "line", disabled: making !== "" })))),
  );
}
