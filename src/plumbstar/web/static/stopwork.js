// What was put under the upright stop, or taken out of it: recorded, one question a screen.

import { h } from "./dom.js";
import { act, say } from "./store.js";
import { answer, big, button, entry, redraw, numberIn, ui } from "./parts.js";
import { capital, list } from "./words.js";

/** @type {ShimForm | null} */
let form = null;

/** Asks for the page again, once something was recorded. @type {() => void} */
let asked = () => {};

/** Whether a question stands open: it then has the screen alone. */
export const working = () => form !== null;

/** @param {ShimForm["page"] | null} page null shuts it */
function turnTo(page) {
  if (!page) form = null;
  else if (form) form.page = page;
  ui.padFor = "";
  say("");
  redraw();
  scrollTo(0, 0);
}

const begin = () => {
  form = { page: "what", id: `mend-${crypto.getRandomValues(new Uint32Array(2)).join("-")}`, pieces: [], out: false, thick: 0, many: "", typed: "" };
  turnTo("what");
};

/** @param {...Kids} buttons */
const others = (...buttons) => h("div", { class: "one-below-another", key: "others" }, buttons);

/** @param {PieceSaid} p */
const piece = (p) => `${Math.abs(p.count)} x ${p.thickness_mm} mm ${p.count < 0 ? "taken out" : "put in"}`;

/**
 * On Many nights: what was recorded last, and the way to record what was done since.
 * @param {StopWork} w
 * @param {() => void} again
 */
export function stopWork(w, again) {
  asked = again;
  const { last } = w;
  return h("section", { key: "stop-work" }, h("h2", {}, "What you changed"),
    last ? h("p", {}, last.sentence.replace(/-(?=\d+[.]\d+°)/g, "−")) : h("p", {}, "No change of the upright stop is recorded yet."),
    w.advised.length
      ? big("I have worked on the stop", begin, { key: "begin", id: "stop-changed" })
      : others(button("I changed what is under the stop", begin, { key: "begin", id: "stop-changed" })),
    last?.can_undo ? button("Undo: the last change of the stop", () => takeBack(last.id), { key: "undo-mend", class: "quiet" }) : null);
}

/** @param {number} id */
async function takeBack(id) {
  if (await act("undo_mend", { id }, "Taken back: the stop counts as it was before.")) asked();
}

/**
 * The question that stands open.
 * @param {StopWork} w
 */
export function stopQuestions(w) {
  if (!form) return null;
  const page = { what: whatPage, thick: thickPage, many: manyPage, all: allPage }[form.page];
  return h("div", { key: `shims-${form.page}` }, page(form, w), form.page === "what" || form.page === "all" ? null : button("Back", () => turnTo(form?.page === "many" ? "thick" : form?.pieces.length ? "all" : "what"), { key: "one-back", class: "quiet" }),
    button("Leave: record nothing", () => turnTo(null), { key: "leave", class: "quiet" }));
}

/**
 * @param {ShimForm} f
 * @param {StopWork} w
 */
function whatPage(f, w) {
  f.pieces = [];
  const put = (/** @type {boolean} */ out) => () => { f.out = out; turnTo("thick"); };
  const advised = w.advised.length > 0;
  return [
    answer("What did you do under the stop?"),
    advised ? big(`As advised: ${w.advised_words}`, () => save(f, [...w.advised]), { key: "advised" }) : big("I put pieces in", put(false), { key: "in" }),
    others(
      advised ? button("I put other pieces in", put(false), { key: "in" }) : null,
      button(advised ? "I took other pieces out" : "I took pieces out", put(true), { key: "out" }),
      button("I changed it, but do not know by how much", () => save(f, []), { key: "unknown" })),
    h("p", { key: "why", class: "note" }, "What is recorded here moves the stop in the next night’s reckoning. It can be undone."),
  ];
}

/**
 * @param {ShimForm} f
 * @param {StopWork} w
 */
function thickPage(f, w) {
  const take = (/** @type {number} */ mm) => { f.thick = mm; f.typed = ""; turnTo("many"); };
  const typed = () => {
    const mm = numberIn(f.typed.replace(/mm/i, ""));
    if (mm >= 0.01 && mm <= 100) take(mm);
    else say("The thickness in millimetres, as 0.5; between 0.01 and 100.", true);
  };
  return [
    answer(f.out ? "How thick was a piece that you took out?" : "How thick was a piece that you put in?"),
    w.on_hand_mm.length ? h("div", { class: "row", key: "on-hand" }, w.on_hand_mm.map((mm) => button(`${mm} mm`, () => take(mm), { key: `mm-${mm}` }))) : null,
    entry("shim-thick", w.on_hand_mm.length ? "Or another thickness, mm" : "Thickness, mm", { value: f.typed, oninput: (e) => { f.typed = e.target.value; }, onkeydown: (e) => { if (e.key === "Enter") typed(); } }, "amount"),
    big("Next", typed, { key: "next" }),
    h("p", { key: "why", class: "note" }, "Pieces of several thicknesses are told one thickness after another."),
  ];
}

/** @param {ShimForm} f */
function manyPage(f) {
  const take = (/** @type {number} */ n) => {
    f.pieces = [...f.pieces, { thickness_mm: f.thick, count: f.out ? -n : n }];
    f.many = "";
    turnTo("all");
  };
  const typed = () => {
    const n = numberIn(f.many);
    if (Number.isInteger(n) && n >= 1 && n <= 1000) take(n);
    else say("How many pieces: a whole number, as 2.", true);
  };
  return [
    answer(`How many of ${f.thick} mm did you ${f.out ? "take out" : "put in"}?`),
    h("div", { class: "row", key: "few" }, [1, 2, 3, 4].map((n) => button(String(n), () => take(n), { key: `n-${n}` }))),
    entry("shim-many", "Or more", { value: f.many, oninput: (e) => { f.many = e.target.value; }, onkeydown: (e) => { if (e.key === "Enter") typed(); } }, "amount"),
    big("Next", typed, { key: "next" }),
  ];
}

/** @param {ShimForm} f */
const allPage = (f) => [
  answer(`${capital(list(f.pieces.map(piece)))}. Is that all?`),
  big("Yes, record it", () => save(f, f.pieces), { key: "save" }),
  others(
    button("I put more in", () => { f.out = false; turnTo("thick"); }, { key: "in" }),
    button("I took something out, too", () => { f.out = true; turnTo("thick"); }, { key: "out" }),
    button("No, that is wrong: begin again", () => turnTo("what"), { key: "anew" })),
];

/**
 * @param {ShimForm} f
 * @param {PieceSaid[]} pieces
 */
async function save(f, pieces) {
  const left = new Map();
  for (const p of pieces) left.set(p.thickness_mm, (left.get(p.thickness_mm) ?? 0) + p.count);
  if (pieces.length && ![...left.values()].some((n) => n)) return say("As much was taken out as was put in: nothing has changed.", true);
  if (!(await act("shimmed", { id: f.id, pieces }, "Recorded."))) return;
  turnTo(null);
  say("Recorded.");
  asked();
}
