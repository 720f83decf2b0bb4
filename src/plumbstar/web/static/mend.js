// Mend: what is wrong, and how is it put right? Why tonight's fix is what it is; the other parts have
// files of their own.

import { h } from "./dom.js";
import { get, store } from "./store.js";
import { answer, bullets, choiceRow, redraw, section, ui } from "./parts.js";
import { checks } from "./checks.js";
import { mirrors } from "./mirrors.js";
import { nights } from "./nights.js";
import { chance } from "./words.js";

export const title = "Mend";
export const question = "What is wrong?";

const PARTS = [["why", "Tonight"], ["mount", "Many nights"], ["checks", "Checks"], ["mirrors", "Mirrors"]];
const DRAWN = { why, mount: nights, checks };
/** The first cause is always shown; one less likely than this stands folded away. */
const LIKELY = 0.1;
const data = {};
const askedFor = {};

/** What the answers hang on: the sightings, not the passing of time. */
const wanted = (state) => JSON.stringify([state.outing?.id, state.sightings.map((s) => [s.id, s.set_aside]), state.kit?.eyepiece]);

async function ask(name) {
  const want = wanted(store.state);
  if (askedFor[name] === want) return;
  askedFor[name] = want;
  try {
    data[name] = await get(`/data/${name}`);
  } catch (e) {
    askedFor[name] = "";
    data[name] = data[name] || { problem: e.message || "No answer from the telescope’s computer." };
  }
  redraw();
}

export function view() {
  const part = ui.mend || "why";
  if (part !== "mirrors") ask(part);
  const d = data[part];
  return [
    choiceRow("mend", "Look at", PARTS, part, (v) => { ui.mend = v; redraw(); }),
    part === "mirrors" ? mirrors()
      : d === undefined ? h("p", { key: "wait" }, "Working it out…")
      : d.problem ? h("p", { key: "problem", class: "answer" }, d.problem)
      : DRAWN[part](d),
  ];
}

function why(d) {
  const likely = d.explanations.filter((x, i) => i === 0 || x.probability >= LIKELY);
  const unlikely = d.explanations.slice(likely.length);
  return h("div", { key: "why" },
    answer(d.sentence),
    likely.length ? h("ol", { class: "lines why" }, likely.map(cause)) : null,
    unlikely.length ? section("unlikely", "Less likely causes", String(unlikely.length), h("ol", { class: "lines why" }, unlikely.map(cause))) : null,
    bullets(d.notes));
}

function cause(x) {
  return h("li", { key: x.name },
    h("span", { class: "odds" }, chance(x.probability)),
    h("strong", {}, x.sentence),
    h("p", {}, x.evidence),
    h("p", {}, h("em", {}, "To make sure: "), x.check),
    h("p", {}, h("em", {}, "To mend it: "), x.mend));
}

export function live() {}
