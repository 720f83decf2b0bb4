// How well was it seen, how is the sky tonight: taps, words and a sketch, kept in the log.

import { h } from "./dom.js";
import { act, say, store, uuid } from "./store.js";
import { button, choiceRow, entry, redraw, section, typedNumber } from "./parts.js";
import { sketchBlock } from "./sketch.js";
import { plural } from "./words.js";

/** @type {[Seen, string][]} */
const HOW = [["clearly", "Clearly"], ["faintly", "Faintly"], ["barely", "Barely"]];

/** The page's names for looks that no press of "found" made, by object. @type {Map<string, string>} */
const presses = new Map();

/** @param {string} key */
function pressOf(key) {
  const known = presses.get(key) ?? uuid();
  presses.set(key, known);
  return known;
}

/**
 * The look that this press made, if it stands in the log.
 * @param {Picture} state
 * @param {string} press
 */
const lookOf = (state, press) => state.seen.looks.find((x) => x.press === press);

/** The find at which the sky is asked: there it stays open until all of it is told. */
let skyFor = "";

/**
 * One tap for how it was seen, words, a sketch, and once an evening the sky.
 * @param {Picture} state
 * @param {TargetRecord} t
 * @param {string} found the press that found it, or nothing
 */
export function howSeen(state, t, found) {
  const press = found || pressOf(`${state.outing?.id ?? 0} ${t.name}`);
  const look = lookOf(state, press);
  const what = t.name === "Moon" ? "the Moon" : t.label || t.name;
  if (!state.seen.sky) skyFor = press;
  const tell = (/** @type {Seen} */ seen, words = "") => act("look", { id: press, target: t.name, seen, words }, "It is in the log.");
  return h("section", { key: `seen-${press}`, class: "seen-how" },
    h("p", { class: "note", key: "ask" }, look ? `In the log: ${SAID[look.seen]}. Another tap says it otherwise.` : "How was it seen?"),
    h("div", { class: "row thirds", key: "hows" }, HOW.map(([seen, label]) =>
      button(label, () => tell(seen), { key: seen, class: look?.seen === seen ? "chosen" : "", "aria-pressed": look?.seen === seen ? "true" : "false" }))),
    section("word", "A word on it", look?.words ? "written" : "",
      h("label", { for: "seen-note" }, `What did you see of ${what}?`),
      h("textarea", { id: "seen-note", rows: 2, value: look?.words ?? "" }),
      button("Save the word", () => {
        const box = textBox("seen-note");
        const text = box ? box.value.trim() : "";
        if (!text) return say("Nothing is written yet.", true);
        return tell(look?.seen ?? "seen", text);
      }, { key: "save" })),
    section("sketch", "A sketch", look?.sketches ? plural(look.sketches, "sketch", "sketches") : "", sketchBlock(t.name, what)),
    skyFor === press ? skyBlock(state) : null);
}

/** @type {Record<string, string>} */
export const SAID = { clearly: "clearly seen", faintly: "faintly seen", barely: "barely seen", seen: "seen", not: "in the field, and not seen" };

/**
 * It was in the field by its neighbours, and did not show: that teaches, too.
 * @param {Picture} state
 * @param {TargetRecord} t
 */
export function notSeen(state, t) {
  const press = pressOf(`${state.outing?.id ?? 0} ${t.name} not`);
  const told = lookOf(state, press);
  return told
    ? h("p", { class: "note", key: "not-seen" }, "In the log: in the field, and not seen.")
    : button("The right field, but I cannot see it", () => act("look", { id: press, target: t.name, seen: "not" }, "In the log as not seen."), { class: "quiet", key: "not-seen", id: "not-seen" });
}

/** @type {[string, string][]} */
const SEEING = [["1", "still"], ["2", "good"], ["3", "fair"], ["4", "poor"], ["5", "boiling"]];
/** @type {[string, string][]} */
const CLEAR = [["1", "very clear"], ["2", "clear"], ["3", "a little haze"], ["4", "hazy"], ["5", "cloud"]];

/**
 * Once an evening: how the stars stand, how clear it is, how dark.
 * @param {Picture} state
 */
export function skyBlock(state) {
  const sky = state.seen.sky;
  const tell = (/** @type {Partial<Actions["tell_sky"]>} */ what) => act("tell_sky", { id: uuid(), ...what }, "It is in the log.");
  return section("sky-tonight", "Tonight’s sky", skyShort(state),
    choiceRow("seeing", "How still are the stars at high power?", SEEING, String(sky?.seeing ?? ""), (v) => tell({ seeing: Number(v) })),
    choiceRow("clear", "How clear is it?", CLEAR, String(sky?.transparency ?? ""), (v) => tell({ transparency: Number(v) })),
    entry("faintest", "Faintest star without a telescope, magnitude", { value: sky?.faintest_mag ?? "" }, "number"),
    entry("zenith", "Or a sky meter at the zenith, magnitudes a square arcsecond", { value: sky?.zenith_mag ?? "" }, "number"),
    button("Save how dark it is", () => {
      const [faintest, zenith] = [typedNumber("faintest"), typedNumber("zenith")];
      /** @type {Partial<Actions["tell_sky"]>} */
      const what = {};
      if (Number.isFinite(faintest)) what.faintest_mag = faintest;
      if (Number.isFinite(zenith)) what.zenith_mag = zenith;
      if (!Object.keys(what).length) return say("Type one of the two numbers, as 5.8 or 21.2.", true);
      return tell(what);
    }, { key: "dark" }),
    h("p", { class: "note", key: "why" }, "Once an evening is enough. What is left out stays open."));
}

/** @param {Picture} state */
function skyShort(state) {
  const sky = state.seen.sky;
  if (!sky) return "";
  const word = (/** @type {[string, string][]} */ list, /** @type {number | null} */ n) => list.find(([v]) => v === String(n))?.[1] ?? "";
  return [sky.seeing && `seeing ${word(SEEING, sky.seeing)}`, word(CLEAR, sky.transparency),
    sky.faintest_mag !== null && `stars to ${sky.faintest_mag}`, sky.zenith_mag !== null && `zenith ${sky.zenith_mag}`].filter(Boolean).join(", ");
}

/** @param {string} id */
const textBox = (id) => /** @type {HTMLTextAreaElement | null} */ (document.getElementById(id));
