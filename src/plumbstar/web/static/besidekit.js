// The kit of whoever has a closed controller: asked for, one question a screen; no file to edit.

import { h } from "./dom.js";
import { act, get, say } from "./store.js";
import { answer, big, button, choiceRow, entry, field, go, numberIn, redraw, section, toggle, ui } from "./parts.js";
import { takeTube, tubeFields } from "./kitasked.js";
import { anotherPiece, pieceList, sentPieces, takeTyped, typedPieces } from "./pieces.js";
import { capital, list } from "./words.js";

/** @type {OfferedStar[] | null} */
let offered = null;
/** @type {BoxForm | null} */
let form = null;

/**
 * What is known so far, to be changed.
 * @param {Picture} state
 * @param {BesideRecord} b
 */
function begin(state, b) {
  const first = !b.kit.eyepieces.length; // nobody has described one: no number is anybody's
  form ??= {
    page: 0, stars: [...b.kit.stars], catalogues: [...b.kit.catalogues], clock: b.kit.clock, sign: b.kit.sign, decimals: b.kit.decimals,
    aperture: first ? "" : String(Math.round(b.kit.aperture_m * 1000)), focal: first ? "" : String(Math.round(b.kit.focal_length_m * 1000)),
    pieces: typedPieces(b.kit.eyepieces),
  };
  if (!offered) get("/data/controller_stars").then((d) => { offered = d.stars; redraw(); }, () => {});
  return form;
}

/** @param {number} to */
function turnTo(to) {
  if (!form) return;
  form.page = to;
  ui.padFor = "";
  say("");
  redraw();
  scrollTo(0, 0);
}

/**
 * All of it, from the first question on.
 * @param {Picture} state
 * @param {BesideRecord} b
 */
export function kitPages(state, b) {
  const f = begin(state, b);
  const page = [starsPage, listsPage, clockPage, shownPage, tubePage, piecesPage][f.page] ?? starsPage;
  return h("div", { key: `kit-${f.page}` }, page(f),
    f.page ? button("Back", () => turnTo(f.page - 1), { key: "one-back", class: "quiet" }) : null,
    button("No: my circles or encoders can be read", async () => {
      form = null;
      if (await act("leave_controller", {}, "Then the pages ask for readings.")) go("prepare");
    }, { key: "leave", class: "quiet" }));
}

/** @param {BoxForm} f */
function starsPage(f) {
  const q = (ui.starQuery ?? "").trim().toLowerCase();
  const fold = (/** @type {string} */ s) => s.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
  const found = (offered ?? []).filter((s) => !f.stars.includes(s.name) && (!q || fold(s.name).startsWith(fold(q)) || fold(s.constellation).startsWith(fold(q))));
  const add = (/** @type {string} */ name) => { f.stars = [...new Set([...f.stars, name])]; ui.starQuery = ""; const box = field("box-star"); if (box) box.value = ""; redraw(); };
  return [
    answer("Which stars does your controller list?"),
    big(f.stars.length < 2 ? "Tick two at least" : `These ${f.stars.length}, and on`, () => (f.stars.length < 2 ? say("Two stars at least: it is told two.", true) : turnTo(1)), { key: "next" }),
    h("p", { key: "how" }, "Go through its list once, and tap each star here. Those that are not offered can be typed, by name or as “alpha Cas”."),
    f.stars.length ? h("div", { key: "ticked" }, f.stars.map((s) => toggle(s, true, () => { f.stars = f.stars.filter((x) => x !== s); redraw(); }, "tap to take it out"))) : null,
    entry("box-star", "First letters, or a name", { oninput: (e) => { ui.starQuery = e.target.value; redraw(); }, onkeydown: (e) => { if (e.key === "Enter" && found[0]) add(found[0].name); } }),
    found.slice(0, q ? 12 : 400).map((s) => toggle(s.name, false, () => add(s.name), s.constellation)),
    q && !found.length ? button(`Take “${(ui.starQuery ?? "").trim()}” as it is written`, async () => {
      const name = (ui.starQuery ?? "").trim();
      const reply = await get("/data/search", `?kind=star&q=${encodeURIComponent(name)}`).catch(() => null);
      const star = reply?.results[0];
      if (star) { add(star.label || star.name); say(`${star.label || star.name} is in the list.`); } else say(`No star is called “${name}”. Try its letter and constellation, as “alpha Cas”.`, true);
    }, { key: "typed" }) : null,
  ];
}

const LISTS = [["M", "Messier", "M 1 to M 110"], ["NGC", "NGC", "the New General Catalogue"], ["IC", "IC", "the Index Catalogue"], ["C", "Caldwell", "C 1 to C 109"], ["planets", "Planets", "those that move"]];

/** @param {BoxForm} f */
const listsPage = (f) => [
  answer("Which lists of objects does it have?"),
  big("Next", () => turnTo(2), { key: "next" }),
  h("p", { key: "why" }, "For an object that it does not have, the pages say which one near it to choose, and how far to push on from there."),
  LISTS.map(([id, name, what]) => toggle(name, f.catalogues.includes(id), (on) => { f.catalogues = on ? [...f.catalogues, id] : f.catalogues.filter((x) => x !== id); redraw(); }, what)),
];

/** @param {BoxForm} f */
const clockPage = (f) => [
  answer("Does your controller know the time?"),
  choiceRow("box-clock", "Its clock", [["yes", "Yes"], ["no", "No"], ["unknown", "I don’t know"]], f.clock, (v) => { f.clock = v; redraw(); }),
  h("p", { key: "why" }, "One without a clock takes both stars as seen in the same moment, so slow hands cost it up to a quarter of a degree a minute. If you do not know, the evenings will tell."),
  big("Next", () => turnTo(3), { key: "next" }),
];

/** @param {BoxForm} f */
const shownPage = (f) => [
  answer("How does it show its number?"),
  choiceRow("box-decimals", "Figures after the point", [["0", "None: 1"], ["1", "One: 1.4"], ["2", "Two: 1.38"]], String(f.decimals), (v) => { f.decimals = Number(v); redraw(); }),
  choiceRow("box-sign", "It is positive when the angle measured is", [["measured-minus-true", "Larger than the true one"], ["true-minus-measured", "Smaller"], ["unknown", "I don’t know"]], f.sign, (v) => { f.sign = v; redraw(); }),
  h("p", { key: "why" }, "Most are positive when the measured angle is the larger (common practice, no source). If you do not know, what you find in the evening tells."),
  big("Next", () => turnTo(4), { key: "next" }),
];

/** @param {BoxForm} f */
const tubePage = (f) => [
  answer("Which telescope is it?"),
  tubeFields(f, "box"),
  big("Next", () => { const wrong = takeTube(f); return wrong ? say(wrong, true) : turnTo(5); }, { key: "next" }),
];

/** @param {BoxForm} f */
const piecesPage = (f) => [
  answer("Which eyepieces do you have?"),
  pieceList(f),
  big(f.pieces.length ? "Save all of it" : "Put one in below first", () => takeTyped(f) && save(f), { key: "next" }),
  anotherPiece(f),
];

/** @param {BoxForm} f */
async function save(f) {
  if (!f.pieces.length) return say("One eyepiece at least: the chances are those of its field.", true);
  const pieces = sentPieces(f.pieces);
  if (!(await act("set_telescope", { aperture_mm: numberIn(f.aperture), focal_length_mm: numberIn(f.focal), eyepieces: pieces }))) return;
  if (!(await act("set_controller", { stars: f.stars, clock: /** @type {any} */ (f.clock), sign: /** @type {any} */ (f.sign), decimals: f.decimals, catalogues: /** @type {any} */ (f.catalogues) }, "Saved."))) return;
  form = null;
  ui.boxAgain = false;
  go("prepare");
}

/**
 * On Prepare: what is known of it, and the way to change it.
 * @param {Picture} state
 * @param {BesideRecord} b
 */
export function kitLines(state, b) {
  const box = b.kit;
  const clock = { yes: "It has a clock.", no: "It has no clock." }[box.clock] ?? "Whether it has a clock is not known.";
  return section("box", "Your controller", `${box.stars.length} stars`,
    h("p", {}, `${capital(list([...box.stars]))}.`),
    h("p", {}, clock),
    button("Change stars, clock, eyepieces", () => { form = null; ui.boxAgain = true; go("sight"); redraw(); }, { key: "change" }));
}

/** @type {string[]} */
let own = [];

/**
 * A pair of the owner's own choice gets its chance, too.
 * @param {BesideRecord} b
 */
export function ownPair(b) {
  const chosen = own.filter((s) => b.kit.stars.includes(s));
  return section("own-pair", "Two stars of your own choice", chosen.join(", then "),
    h("p", {}, "Tap two, in the order in which you will centre them."),
    chosen.length === 2 ? button(`Use ${list(chosen)}`, async () => {
      if (await act("pick", { stars: chosen }, `Chosen: first ${chosen[0]}, then ${chosen[1]}.`)) { own = []; redraw(); scrollTo(0, 0); }
    }, { key: "use" }) : null,
    b.kit.stars.map((s) => toggle(s, chosen.includes(s), (on) => { own = on ? [...chosen.slice(-1), s] : chosen.filter((x) => x !== s); redraw(); })));
}
