// What many outings say of the mount: what to mend first, and each term night by night.

import { element, h } from "./dom.js";
import { act } from "./store.js";
import { answer, big, bullets } from "./parts.js";
import { stopQuestions, stopWork, working } from "./stopwork.js";
import { capital, signedTerm } from "./words.js";

/**
 * @param {MountAnswer} d
 * @param {() => void} again asks for it anew
 */
export function nights(d, again) {
  if (d.stop_work && working()) return stopQuestions(d.stop_work);
  const part = (/** @type {string} */ title, /** @type {Kids[]} */ ...kids) => h("section", { key: title }, h("h2", {}, title), kids);
  const { jobs, changes, terms, left_out, shims } = d;
  return h("div", { key: "mount" },
    answer(d.sentence),
    d.adding ? big(`Write into the kit: adding ${d.adding} the tube`, () => turn(d.adding, again), { key: "turn-stop" }) : null,
    d.lines.map((s) => h("p", { key: s }, s)),
    d.picture ? h("figure", { class: "outings-box", raw: true, key: d.picture, ref: (el) => el.append(drawn(d.picture)) }) : null,
    d.hand ? h("p", { key: "hand" }, d.hand) : null,
    d.pushes ? h("p", { key: "pushes" }, d.pushes) : null,
    jobs.length ? part("What to mend first", h("ol", { class: "lines" }, jobs.map(job))) : null,
    changes.length ? part("What else has changed", bullets(changes.map((c) => `${c.sentence}.`))) : null,
    bullets(left_out),
    shims ? part("Shims", h("p", {}, shims.sentence),
      shims.steps.length ? h("ol", { class: "steps" }, shims.steps.map((s) => h("li", {}, s))) : null) : null,
    d.stop_work ? stopWork(d.stop_work, again) : null,
    terms.length ? part("Night by night",
      h("p", { class: "note" }, "Each dot is an outing, the oldest on the left; its line is how far to trust it. The long line is what is believed now."),
      h("ul", { class: "terms" }, terms.map(term))) : null);
}

/** @param {string} adding @param {() => void} again */
async function turn(adding, again) {
  if (await act("turn_stop", { adding: /** @type {AskedStopWay["adding"]} */ (adding) }, "Written into the kit.")) again();
}

/**
 * The picture as it came, to be dressed by the page.
 * @param {string} svg
 */
const drawn = (svg) => document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true);

/** @param {JobRecord} j */
function job(j) {
  return h("li", { key: j.what },
    h("p", {}, `${j.what}.`),
    j.gain_words ? h("p", {}, j.gain_words) : null);
}

/** @type {Record<string, string>} */
const TRUST = { trusted: "known well enough to start the next night with", partly: "known in part", open: "not known yet" };

/** @param {TermHistoryRecord} t */
function term(t) {
  const now = t.value_percent ?? t.value_deg;
  return h("li", { key: t.label },
    h("p", { class: "term" }, h("strong", {}, capital(t.label)), h("span", { class: "value" }, now === null ? "not known" : signedTerm(t))),
    t.points.length ? h("div", { class: "nights-box", raw: true, key: JSON.stringify(t.points), ref: (el) => el.append(plot(t.points, now, t.label)) }) : null,
    t.trust ? h("small", {}, capital(TRUST[t.trust])) : null);
}

/**
 * @param {NightPoint[]} points
 * @param {number | null} now
 * @param {string} name
 */
function plot(points, now, name) {
  const low = Math.min(now ?? 0, ...points.map((p) => p.value - p.sigma));
  const high = Math.max(now ?? 0, ...points.map((p) => p.value + p.sigma));
  const y = (/** @type {number} */ v) => (8 + (64 * (high - v)) / (high - low || 1)).toFixed(1);
  const x = (/** @type {number} */ i) => (12 + (276 * (i + 0.5)) / points.length).toFixed(1);
  const svg = element("svg", { class: points.length > 40 ? "nights many" : "nights", viewBox: "0 0 300 80", role: "img",
    "aria-label": `${name}: ${points.map((p) => `outing ${p.outing}, ${p.value.toFixed(2)}`).join("; ")}` });
  if (now !== null) svg.append(element("line", { class: "now", x1: 0, x2: 300, y1: y(now), y2: y(now) }));
  points.forEach((p, i) => {
    svg.append(
      element("line", { x1: x(i), x2: x(i), y1: y(p.value - p.sigma), y2: y(p.value + p.sigma) }),
      element("circle", { cx: x(i), cy: y(p.value), r: Math.max(1.2, Math.min(4.5, 110 / points.length)).toFixed(1) }));
  });
  return svg;
}
