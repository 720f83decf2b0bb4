// Mend: what is wrong, and how is it put right? Why tonight's fix is what it is; the other parts have
// files of their own.

import { h } from "./dom.js";
import { act, get, store, whyNot } from "./store.js";
import { answer, big, bullets, button, choiceRow, enterAs, redraw, section, ui } from "./parts.js";
import { checks } from "./checks.js";
import { helping } from "./helping.js";
import { mirrors } from "./mirrors.js";
import { nextButton } from "./next.js";
import { nights } from "./nights.js";
import { working } from "./stopwork.js";

/** @type {[MendPart, string][]} */
const PARTS = [["why", "Tonight"], ["mount", "Many nights"], ["checks", "Checks"], ["mirrors", "Mirrors"], ["help", "A friend"]];
/** The first cause is always shown; one less likely than this stands folded away. */
const LIKELY = 0.1;
/** Asks for a part; gives what draws it. @type {Record<string, () => Promise<() => Kids>>} */
const ASK = {
  why: () => get("/data/why").then((d) => () => why(d)),
  mount: () => get("/data/mount").then((d) => () => nights(d, () => { askedFor.mount = ""; ask("mount"); })),
  checks: () => get("/data/checks").then((d) => () => checks(d)),
};
/** @type {Record<string, () => Kids>} */
const drawn = {};
/** @type {Record<string, string>} */
const askedFor = {};

/**
 * What the answers hang on: the sightings, whether something moved since and the Sun; not the passing of time.
 * @param {Picture} state
 */
const wanted = (state) => JSON.stringify([state.outing?.id, state.next.do, state.next.settles, state.sun?.up, state.sun?.filter_confirmed, state.sightings.map((s) => [s.id, s.set_aside]), state.moved?.after, state.fix?.cuts.map((c) => c.after), state.kit?.eyepiece, state.beside?.takes_back, state.beside?.answer, state.beside?.finds.length]);

/** @param {MendPart} name */
async function ask(name) {
  if (!store.state) return;
  const want = wanted(store.state);
  if (askedFor[name] === want) return;
  askedFor[name] = want;
  try {
    drawn[name] = await ASK[name]();
  } catch (e) {
    askedFor[name] = "";
    const problem = whyNot(e);
    drawn[name] ??= () => h("p", { key: "problem", class: "answer" }, problem);
  }
  redraw();
}

/** @param {MendPart} part */
const parts = (part) =>
  choiceRow("mend", "Look at", PARTS, part, (v) => {
    ui.mend = /** @type {MendPart} */ (v);
    if (v === "mount") askedFor.mount = ""; // a mend may have been recorded elsewhere since
    redraw();
  });

export function view() {
  const part = ui.mend || "why";
  if (part === "mirrors") return [parts(part), mirrors()];
  if (part === "help") return [parts(part), helping()];
  ask(part);
  if (part === "mount" && working() && drawn.mount) return drawn.mount(); // a question has the screen alone
  return [parts(part), drawn[part] ? drawn[part]() : h("p", { key: "wait" }, "Working it out…")];
}

/** @param {WhyAnswer} d */
function why(d) {
  const likely = d.causes.filter((x, i) => i === 0 || x.probability >= LIKELY);
  const unlikely = d.causes.slice(likely.length);
  // Nothing can be told yet, or not before a star: then what every page says is to be done comes first.
  const state = store.state;
  const first = state && (d.star_first || !d.causes.length) && state.next.do !== "mend" ? nextButton(state) : null;
  return h("div", { key: "why" },
    answer(d.sentence),
    first ?? deeds(d.deeds, true),
    likely.length ? h("ol", { class: "lines why" }, likely.map((x, i) => cause(x, i === 0 && !first && d.deeds.length > 0))) : null,
    unlikely.length ? section("unlikely", "Less likely causes", String(unlikely.length), h("ol", { class: "lines why" }, unlikely.map((x) => cause(x)))) : null,
    d.measured.length ? h("section", { key: "measured" }, h("h2", {}, "Measured tonight"), h("ul", { class: "lines why" }, d.measured.map(measured))) : null,
    bullets(d.notes));
}

/** @param {MeasuredSaid} x */
function measured(x) {
  return h("li", { key: x.sentence }, h("p", {}, x.sentence), h("p", {}, h("em", {}, "To mend it: "), x.mend));
}

/**
 * @param {CauseRecord} x
 * @param {boolean} [told] its deeds stand above already
 */
function cause(x, told = false) {
  return h("li", { key: x.kind },
    h("span", { class: "odds" }, x.probability_words),
    h("strong", {}, x.title),
    h("p", {}, x.evidence),
    x.check ? h("p", {}, h("em", {}, "To make sure: "), x.check) : null,
    h("p", {}, h("em", {}, "To mend it: "), x.mend),
    told ? null : deeds(x.deeds));
}

/** @param {CauseDeed} x */
function done(x) {
  if (x.do === "turn_circles") return act("turn_circles", { axes: /** @type {Actions["turn_circles"]["axes"]} */ (x.axes) }, "Done.");
  return x.do === "enter_as"
    ? enterAs(x.others)
    : act("set_aside_these", { ids: x.ids, reason: "What went wrong?" }, "Set aside. The Fix page brings it back.");
}

/**
 * What the advice says, done by one press; the first of the answer's own is the largest.
 * @param {CauseDeed[]} list
 */
const deeds = (list, answers = false) => list.length
  ? h("div", { class: answers ? "" : "row", key: "deeds" }, list.map((x, i) => [
      x.asks ? h("p", { class: "big-words", key: `asks${i}` }, x.asks) : null,
      (answers && i === 0 ? big : button)(x.button, () => done(x), { key: x.button })]))
  : null;

export function live() {}
