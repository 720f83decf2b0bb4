// Choosing what to look at: by name or number, or by what stands well now.

import { h } from "./dom.js";
import { act, get, whyNot } from "./store.js";
import { big, button, canPoint, entry, eyepieceRow, redraw, ui, undoButton } from "./parts.js";
import { following, refresh } from "./agenda.js";
import { push as pushTo } from "./tonight.js";
import { nextBlock } from "./next.js";
import * as own from "./own.js";
import { queue } from "./sight.js";
import { brightness, capital, degrees } from "./words.js";

let timer = 0;
/** @param {string} q */
function ask(q) {
  clearTimeout(timer);
  ui.query = q;
  timer = setTimeout(async () => {
    const mine = q.trim();
    /** @type {SearchAnswer | null} */
    const reply = await (mine ? get("/data/search", `?kind=any&q=${encodeURIComponent(mine)}`) : get("/data/tonight")).catch(/** @returns {SearchAnswer | null} */ (e) => {
      ui.noResults = whyNot(e);
      return null;
    });
    if (q !== ui.query) return; // more was typed since
    ui.results = reply ? reply.results : null;
    ui.resultsFor = mine;
    redraw();
  }, 120);
}

let askedWith = "";
/** @param {Picture} state */
export function search(state) {
  if (own.asking()) return own.question((name) => ask(name));
  const q = ui.query ?? "";
  // The list is asked for anew when the fix, the eyepiece or the place has changed.
  const now = JSON.stringify([state.fix?.mean_hit_chance, state.beside?.answer, state.kit?.eyepiece, state.site]);
  if (askedWith !== now) {
    askedWith = now;
    ask(q);
  }
  const results = ui.results;
  return [
    queue(),
    typing() ? null : h("p", { class: "answer", key: "answer" }, "What would you like to see?"),
    typing() ? null : before(state),
    typing() ? null : suggestion(state),
    entry("find", "Name or number", { value: q, type: "search", oninput: (e) => ask(e.target.value), onkeydown: (e) => {
      if (e.key === "Enter" && ui.results && ui.results[0] && ui.resultsFor === q.trim()) choose(ui.results[0]);
    } }, "text", typing() ? firstMatch(results) : null),
    typing() ? null : undoButton(state),
    h("section", { key: "results" },
      h("h2", {}, ui.resultsFor ? "Found" : "Also well placed now"),
      results === undefined ? h("p", {}, "Looking…")
        : results === null ? h("p", {}, ui.noResults)
        : results.length ? h("ul", { class: "lines results" }, results.slice(0, 20).map(result))
        : h("p", {}, ui.resultsFor ? `Nothing by the name “${ui.resultsFor}”. Try a number, as M 31, or the first letters of a name.` : "Nothing is well placed just now.")),
    typing() ? null : ownObject(results),
    eyepieceRow(state),
  ];
}

/**
 * What no list has is put on the observer's own.
 * @param {FoundThing[] | null | undefined} results
 */
function ownObject(results) {
  const unknown = results && !results.length ? ui.resultsFor : "";
  return h("div", { class: "row", key: "own" },
    button(unknown ? `Add ${unknown} as an object of your own` : "An object of your own", () => own.begin(unknown)));
}

/**
 * What comes before looking at anything.
 * @param {Picture} state
 */
function before(state) {
  if (state.next.do === "find") return null;
  return h("div", { key: "before" },
    canPoint(state) ? null : h("p", { class: "warning", key: "nofix" }, state.beside ? "Nothing can be pointed at yet." : "There is no fix yet, so nothing can be pointed at."),
    nextBlock(state));
}

/**
 * The evening's order, and the next thing in it.
 * @param {Picture} state
 */
function suggestion(state) {
  if (!state.site) return null;
  refresh();
  const v = following();
  return h("div", { key: "suggestion" },
    !v || !canPoint(state) || state.next.settles ? null
      : state.next.do === "find" ? big(`${v.soon ? "Next" : v.start}: ${v.short}`, () => pushTo(v), { key: "next" })
      : button(`Push to ${v.short}`, () => pushTo(v), { key: "push-to" }),
    h("p", {}, h("a", { href: "#tonight", class: "button" }, "Tonight: what is worth looking at, in order")));
}

const typing = () => ui.ownKeys && ui.padFor === "find";

/**
 * While the keys are open the best match stands above them, always of one height.
 * @param {FoundThing[] | null | undefined} results
 */
const firstMatch = (results) =>
  h("div", { class: "first-match", key: "first" },
    ui.resultsFor && results && results[0]
      ? button(h("span", {}, h("strong", {}, results[0].label || results[0].name),
          h("small", {}, results.length > 1 ? `and ${results.length - 1} more, below the keys` : "the only one")), () => choose(results[0]), { class: "line" })
      : h("p", {}, ui.resultsFor ? "Nothing by that name yet." : "M 31, NGC 869, Saturn, a star…"));

/** @param {FoundThing} r */
function result(r) {
  const place = r.alt_deg === null ? "" : r.alt_deg < 0 ? "below the horizon" : r.up === false ? `behind your skyline, ${degrees(r.alt_deg, 0)} up` : `${r.where}, ${degrees(r.alt_deg, 0)} up`;
  return h("li", { key: r.name }, button(
    h("span", {}, h("strong", {}, r.label || r.name),
      h("small", {}, capital([[r.kind, r.constellation && `in ${r.constellation}`].filter(Boolean).join(" "), brightness(r.v_mag), r.double && `double: ${r.double}`, place].filter(Boolean).join("; ")), ".",
        r.hit_chance !== null ? ` ${capital(r.hit_chance_words)} to be in the field.` : "")),
    () => choose(r), { class: "line" }));
}

/** @param {FoundThing} r */
async function choose(r) {
  ui.foundFor = "";
  document.getElementById("find")?.blur();
  ui.padFor = "";
  if (await act("set_target", { name: r.name })) {
    ui.query = "";
    askedWith = "";
    ui.results = undefined;
    redraw();
    scrollTo(0, 0);
    document.getElementById("question")?.focus({ preventScroll: true });
  }
}
