// What many outings say of the mount: what to mend first, and each term night by night.

import { element, h } from "./dom.js";
import { answer, bullets } from "./parts.js";
import { capital, plural, signed } from "./words.js";

export function nights(d) {
  const part = (title, ...kids) => h("section", { key: title }, h("h2", {}, title), kids);
  const { jobs = [], changes = [], terms = [], left_out = [], shims } = d;
  return h("div", { key: "mount" },
    answer(d.sentence),
    jobs.length ? part("What to mend first", h("ol", { class: "lines" }, jobs.map(job))) : null,
    changes.length ? part("What has changed", bullets(changes.map((c) => `${c.sentence}.`))) : null,
    bullets(left_out),
    shims ? part("Shims", h("p", {}, shims.sentence),
      (shims.steps || []).length ? h("ol", { class: "steps" }, shims.steps.map((s) => h("li", {}, s))) : null) : null,
    terms.length ? part("Night by night",
      h("p", { class: "note" }, "Each dot is an outing, the oldest on the left; its line is how far to trust it. The long line is what is believed now."),
      h("ul", { class: "terms" }, terms.map(term))) : null);
}

function job(j) {
  return h("li", { key: j.sentence },
    h("p", {}, `${j.sentence}.`),
    j.gain_in_hit_chance > 0.005 ? h("p", {}, `${GAINED[j.gained]} to have it right would bring ${plural(Math.round(100 * j.gain_in_hit_chance), "more target")} in 100 into the field.`) : null,
    j.gained !== "two" && j.gain_two_stars < 0.01 ? h("p", {}, "After two stars it changes nothing: the fix allows for it.") : null);
}

/** For whom a job is worth most: the gain is not the same after one star as after two. */
const GAINED = { one: "After one star,", two: "After two stars,", trusting: "With the stop taken as true and the mount as perfect," };

const TRUST = { trusted: "known well enough to start the next night with", partly: "known in part", open: "not known yet" };

function term(t) {
  const unit = "now_percent" in t ? "percent" : "deg";
  const now = t[`now_${unit}`];
  const spread = t[`give_or_take_${unit}`];
  const mark = unit === "percent" ? " %" : "°";
  const points = t.points || [];
  return h("li", { key: t.label },
    h("p", { class: "term" }, h("strong", {}, capital(t.label)), h("span", { class: "value" }, now === null || now === undefined ? "not known" : `${signed(now).replace("°", mark)} ± ${spread.toFixed(2)}${mark}`)),
    points.length ? h("div", { class: "nights-box", raw: true, key: JSON.stringify(points), ref: (el) => el.append(plot(points, now, t.label)) }) : null,
    t.trust ? h("small", {}, capital(TRUST[t.trust])) : null);
}

function plot(points, now, name) {
  const low = Math.min(now ?? 0, ...points.map((p) => p[1] - p[2]));
  const high = Math.max(now ?? 0, ...points.map((p) => p[1] + p[2]));
  const y = (v) => (8 + (64 * (high - v)) / (high - low || 1)).toFixed(1);
  const x = (i) => (12 + (276 * (i + 0.5)) / points.length).toFixed(1);
  const svg = element("svg", { class: "nights", viewBox: "0 0 300 80", role: "img",
    "aria-label": `${name}: ${points.map((p) => `outing ${p[0]}, ${p[1].toFixed(2)}`).join("; ")}` });
  if (now !== null && now !== undefined) svg.append(element("line", { class: "now", x1: 0, x2: 300, y1: y(now), y2: y(now) }));
  points.forEach((p, i) => {
    svg.append(
      element("line", { x1: x(i), x2: x(i), y1: y(p[1] - p[2]), y2: y(p[1] + p[2]) }),
      element("circle", { cx: x(i), cy: y(p[1]), r: 4.5 }));
  });
  return svg;
}
