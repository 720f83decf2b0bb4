// Beside a closed controller: on from its zero, to the object.

import { element, h } from "./dom.js";
import { act } from "./store.js";
import { answer, big, button, go, pressed, redraw } from "./parts.js";
import { askLeft, leftForm, leftWaiting } from "./besidepad.js";
import { back, mistakes } from "./beside.js";
import { simulated } from "./closedhand.js";
import { agenda, nextAfter, refresh } from "./agenda.js";
import { stayLonger } from "./longer.js";
import { push as pushTo } from "./tonight.js";
import { eyepieceBlock } from "./eyepiece.js";
import { howSeen, notSeen } from "./seen.js";
import { soft } from "./scales.js";
import { queue } from "./sight.js";
import { capital } from "./words.js";

/**
 * Right and up as a hand is told, and as the display then shows it: the other way round.
 * @param {number} az
 * @param {number} alt
 */
function ways(az, alt) {
  const part = (/** @type {number} */ d, /** @type {string} */ more, /** @type {string} */ less) =>
    Math.abs(d) < 0.05 ? "" : `${Math.abs(d).toFixed(1)}° ${d < 0 ? less : more}`;
  const both = (/** @type {string} */ a, /** @type {string} */ b) => [a, b].filter(Boolean).join(" and ");
  return {
    push: both(part(az, "right", "left"), part(alt, "up", "down")),
    shows: both(part(-az, "right", "left"), part(-alt, "up", "down")),
  };
}

/**
 * @param {Picture} state
 * @param {BesideRecord} b
 * @returns {Kids}
 */
export function find(state, b) {
  if (leftWaiting()) return [queue(), simulated(state, "", b), leftForm()];
  const [t, p] = [state.target, b.push];
  if (!t || t.refused || state.sun_question) return null;
  const another = (/** @type {string} */ label) => button(label, () => act("clear_target"), { key: "other" });
  if (b.number_deg === null) {
    return [queue(), answer("First the stop, the two stars and the number."), big("Go on", () => go("sight"), { key: "next" }), another("Choose another")];
  }
  if (!p) return [queue(), h("p", { class: "target-name", key: "name" }, t.label || t.name), answer("Nothing that your controller knows stands near it."), big("Choose another", () => act("clear_target"), { key: "next" })];
  const s = p.sweep;
  const to = s ? ways(s.push_az_deg, s.push_alt_deg) : ways(p.push_az_deg, p.push_alt_deg);
  const tries = b.finds.filter((f) => f.now && f.target === t.name);
  const found = tries.some((f) => f.found);
  const missed = !found && !s && tries.length > 0; // since it was chosen: chosen again it is pushed to again
  if (found || agenda().plan === undefined) refresh(); // what comes next is known when the next one is found
  const next = found ? nextAfter(`${b.finds.length} ${t.name}`, t.name) : null;
  const chosen = p.known ? "" : p.from_name;
  if (missed) {
    return [
      queue(),
      h("p", { class: "target-name", key: "name" }, t.label || t.name),
      answer("Searched, and not found. It is in the log."),
      big("Find another", () => act("clear_target"), { key: "next" }),
      h("p", { key: "again-words" }, "Or look again: where a likely place is left beside what you have searched, the push leads there."),
      h("div", { class: "row", key: "others" },
        button("Look for it again", () => { act("set_target", { name: t.name }); scrollTo(0, 0); }), back(b)),
    ];
  }
  return [
    queue(),
    h("p", { class: "target-name", key: "name" }, t.label || t.name),
    found ? null : p.warnings.map((w) => h("p", { class: "warning", key: w }, w)),
    found ? doneWith(b, t, next) : null,
    found ? howSeen(state, t, "") : null,
    found ? null : h("p", { key: "zero" }, p.known ? "Choose it on the controller, and push until it shows zero." : `Your controller does not know it. Choose ${p.from_label} on it, and push until it shows zero.`),
    found ? null : answer(to.push ? `Then push on ${to.push}.` : "There it should be."),
    to.shows && !found ? h("p", { key: "shows" }, `The controller then wants ${to.shows}: leave it so.`) : null,
    found ? null : h("p", { class: "big-words", key: "chance" }, s
      ? `Field ${s.index + 1} of ${s.stops_deg.length}. ${capital(s.found_by_words)} that it is in the first ${s.index + 1}.`
      : `${capital(p.hit_chance_words)} to be in the ${state.kit.eyepiece} field${p.known ? `; at its zero ${p.hit_chance_at_zero_words}` : ""}.`),
    found ? null : simulated(state, "find", b),
    found ? null : h("div", { class: "verdict", key: "verdict" },
      h("button", { type: "button", class: "next", id: "here", ...pressed((at) => askLeft({ star: t.name, chosen, what: t.label || t.name, at, az: null })) }, "Here, centred"),
      button("Not in the field", () => act("controller_not_here", {}, s && s.index + 1 >= s.stops_deg.length ? "Noted." : "Noted. Push to the next field."), { class: "next second", id: "not-here" })),
    s ? button("Pressed by mistake: one field back", () => act("one_field_back", {}, "Taken back."), { class: "quiet", key: "field-back" }) : null,
    found ? null : h("div", { class: "around-box", raw: true, key: `drawn${t.name}${p.right_deg}${p.up_deg}${p.patch.major_deg}${s?.index ?? ""}`, ref: (el) => el.append(drawing(p, state.kit.field_deg)) }),
    found ? null : h("p", { class: "note", key: "drawn-words" }, s
      ? "Filled circles have been searched; the thick one is to look at now. The cross is the controller’s zero. As the tube moves, up at the top."
      : "The thin circle is the field at the controller’s zero, the thick one the field after the push on. As the tube moves, up at the top."),
    h("div", { class: "row", key: "others" }, found ? (next ? another("Find another") : null) : another(s ? "Give up: not found" : "Choose another"), back(b)),
    found ? null : notSeen(state, t),
    eyepieceBlock(t),
  ];
}

/**
 * @param {BesideRecord} b
 * @param {TargetRecord} t
 * @param {VisitRecord | null} next
 */
const doneWith = (b, t, next) => [
  h("p", { class: "big-words", key: "found" }, "Found: it is in the log, and the next push has learnt from it."),
  t.story ? h("p", { class: "story", key: "story" }, t.story) : null,
  mistakes(b),
  next ? big(`Push on to ${next.short}`, () => pushTo(next), { key: "onward" }) : null,
  next ? stayLonger(`beside ${b.finds.length}`) : null,
  next ? null : big("Find another", () => act("clear_target"), { key: "another" }),
];

/**
 * The zero, the push on, the likely place and the fields of a search, all to one scale.
 * @param {BesidePush} p
 * @param {number} field
 */
function drawing(p, field) {
  const r = field / 2;
  const [x, y] = [p.right_deg, -p.up_deg];
  const stops = (p.sweep?.stops_deg ?? [[0, 0]]).map(([a, b]) => [x + a, y - b]);
  const spread = 2.5 * p.patch.major_deg;
  const xs = [0, ...stops.map((f) => f[0]), ...(spread < 2 * r ? [] : [x - spread, x + spread])];
  const ys = [0, ...stops.map((f) => f[1]), ...(spread < 2 * r ? [] : [y - spread, y + spread])];
  const m = r * 1.15;
  const [x0, y0] = [Math.min(...xs) - m, Math.min(...ys) - m];
  const [w, hh] = [Math.max(...xs) + m - x0, Math.max(...ys) + m - y0];
  const k = 300 / Math.max(w, hh);
  const at = (/** @type {number} */ a, /** @type {number} */ b) => [((a - x0) * k).toFixed(1), ((b - y0) * k).toFixed(1)];
  const svg = element("svg", { class: "sweep onward", viewBox: `0 0 ${(w * k).toFixed(1)} ${(hh * k).toFixed(1)}`, role: "img",
    "aria-label": `From the controller’s zero push on ${p.words || "not at all"}` });
  const fill = soft(svg);
  const [cx, cy] = at(x, y);
  svg.append(element("ellipse", { fill, class: "patch", rx: Math.max(6, spread * k).toFixed(1), ry: Math.max(6, 2.5 * p.patch.minor_deg * k).toFixed(1),
    transform: `translate(${cx} ${cy}) rotate(${(-p.patch.angle_deg).toFixed(1)})` }));
  const [zx, zy] = at(0, 0);
  svg.append(element("circle", { class: "later", cx: zx, cy: zy, r: (r * k).toFixed(1) }),
    element("path", { class: "cross", d: `M${zx},${zy}m-9,0h18M${zx},${zy}m0,-9v18` }));
  if (Math.hypot(x, y) > 0.1 * r) svg.append(element("line", { class: "thread", x1: zx, y1: zy, x2: cx, y2: cy }));
  const now = p.sweep?.index ?? 0;
  stops.forEach(([a, b], i) => {
    const [px, py] = at(a, b);
    svg.append(element("circle", { class: i < now ? "seen" : i === now ? "next" : "far", cx: px, cy: py, r: (r * k).toFixed(1) }));
  });
  return svg;
}
