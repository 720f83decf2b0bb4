// Ring and shadow set by eye: the shadow is dragged until it looks like the view in the eyepiece.

import { h } from "./dom.js";
import { get, whyNot } from "./store.js";
import { answer, big, bullets, button, entry, fieldValue, redraw, section } from "./parts.js";

const TIMES = 3; // the server takes three to nine
/** Starting places round the middle, so that an eye which stops too early does so every way. */
const STARTS = [[14, 0], [-7, 12], [-7, -12]];
const NARROW = 10;
const WIDE = 55;

/** All in parts of 100 of the ring's radius. */
const eye = { right: STARTS[0][0], down: STARTS[0][1], shadow: 25, begun: false, moved: false, problem: "", busy: false };
/** @type {number[][]} */
let done = [];
/** The settings from the first side of focus, while the other side is set. @type {number[][]} */
let firstSide = [];
/** @type {PhotographAnswer | null} */
let result = null;
/** @type {{ x: number; y: number; right: number; down: number } | null} */
let held = null;

/**
 * Sets the shadow, kept inside the ring.
 * @param {number} right
 * @param {number} down
 * @param {number} shadow
 */
function set(right, down, shadow) {
  eye.shadow = Math.min(WIDE, Math.max(NARROW, shadow));
  const far = Math.hypot(right, down);
  const k = Math.min(1, (98 - eye.shadow) / (far || 1));
  [eye.right, eye.down, eye.moved] = [right * k, down * k, true];
  redraw();
}

/** @param {KeyboardEvent} e */
function key(e) {
  /** @type {Record<string, [number, number, number]>} */
  const steps = {
    ArrowLeft: [-1, 0, 0], ArrowRight: [1, 0, 0], ArrowUp: [0, -1, 0], ArrowDown: [0, 1, 0],
    "+": [0, 0, 1], "-": [0, 0, -1],
  };
  const s = steps[e.key];
  if (!s) return;
  e.preventDefault();
  set(eye.right + s[0], eye.down + s[1], eye.shadow + s[2]);
}

// The finger need not touch the shadow: it moves as the finger does, and so is not hidden by it.
const drag = {
  onpointerdown: (/** @type {any} */ e) => {
    e.currentTarget.setPointerCapture(e.pointerId);
    held = { x: e.clientX, y: e.clientY, right: eye.right, down: eye.down };
  },
  onpointermove: (/** @type {any} */ e) => {
    if (!held) return;
    const k = 220 / e.currentTarget.getBoundingClientRect().width;
    set(held.right + k * (e.clientX - held.x), held.down + k * (e.clientY - held.y), eye.shadow);
  },
  onpointerup: () => (held = null),
  onpointercancel: () => (held = null),
};

/** While it is set nothing else is asked for: the drawing must fit above the page's own buttons. */
export const setting = () => eye.begun && !result;

export function byEye() {
  if (result) return said(result);
  return eye.begun ? drawing() : before();
}

function before() {
  return h("div", { key: "by-eye-before" },
    h("p", { class: "answer" }, "Draw what you see, and the drawing is measured."),
    h("ol", { class: "steps" },
      h("li", {}, "Centre a bright star with a short eyepiece."),
      h("li", {}, "Rack the focuser out until the star is a broad ring with a dark middle."),
      h("li", {}, "Hold the phone upright beside the eyepiece.")),
    h("p", { class: "note" }, "If a diagonal mirrors the view, draw what you see: the answer is told in the same view."),
    big("I see the ring", () => { eye.begun = true; begin(); }, { key: "begin" }));
}

function drawing() {
  const n = done.length + 1;
  const step = (/** @type {string} */ label, /** @type {string} */ name, /** @type {number[]} */ s) =>
    button(label, () => set(eye.right + s[0], eye.down + s[1], eye.shadow + s[2]), { "aria-label": name, key: name });
  return h("div", { key: "by-eye" },
    h("p", { class: "answer" }, firstSide.length ? "Other side of focus: make it look the same." : "Make it look the same."),
    h("p", {}, n === 1 ? "Look at the star. Drag until the dark middle stands as you saw it. Look again."
      : `It has moved. Look at the star again, then drag: ${n === TIMES ? "the last time" : "three times in all"}.`),
    h("svg", {
      key: "drawing", class: "by-eye", viewBox: "-110 -110 220 220", tabindex: 0, role: "application",
      "aria-label": `The ring and its dark middle. Arrow keys move the middle, plus and minus change its size. It is ${Math.hypot(eye.right, eye.down).toFixed(0)} parts in 100 off.`,
      onkeydown: key, ...drag,
    },
      h("circle", { class: "star", cx: 0, cy: 0, r: 100 }),
      h("circle", { class: "shadow", cx: eye.right.toFixed(1), cy: eye.down.toFixed(1), r: eye.shadow.toFixed(1) })),
    h("div", { class: "by-eye-keys", role: "group", "aria-label": "Move the dark middle, or change its size" },
      step("←", "Left", [-1, 0, 0]), step("↑", "Up", [0, -1, 0]), step("↓", "Down", [0, 1, 0]), step("→", "Right", [1, 0, 0]),
      step("−", "Narrower", [0, 0, -2]), step("+", "Wider", [0, 0, 2])),
    eye.problem ? h("p", { role: "alert" }, eye.problem) : null,
    big(eye.busy ? "Measuring…" : `It looks like this (${n} of ${TIMES})`, keep, { key: "keep", disabled: !eye.moved || eye.busy }),
    button("Begin again", again, { class: "quiet", key: "again" }));
}

async function keep() {
  done.push([eye.right, eye.down, eye.shadow]);
  if (done.length < TIMES) return begin();
  if (!await measure("")) done.pop();
  redraw();
}

/**
 * @param {string} defocus how far the focuser was moved, mm, as typed; nothing where it is not known
 */
async function measure(defocus) {
  eye.busy = true;
  redraw();
  try {
    const joined = (/** @type {number[][]} */ settings) => settings.flat().map((v) => v.toFixed(2)).join();
    const asked = new URLSearchParams({ set: joined(firstSide.length ? firstSide : done) });
    if (firstSide.length) asked.set("set_second", joined(done));
    if (defocus) asked.set("defocus_mm", defocus);
    result = await get("/data/mirrors_by_eye", `?${asked}`);
    eye.problem = "";
  } catch (e) {
    eye.problem = whyNot(e);
  }
  eye.busy = false;
  redraw();
  return !eye.problem;
}

function begin() {
  [eye.right, eye.down] = STARTS[done.length];
  eye.moved = false;
  redraw();
}

function again() {
  result = null;
  done = firstSide = [];
  eye.begun = false;
  eye.problem = "";
  redraw();
}

/** The same three times, racked in. */
function otherSide() {
  [firstSide, done, result] = [done, [], null];
  begin();
}

/** @param {PhotographAnswer} r */
function said(r) {
  return h("div", { key: "by-eye-said", role: "status" },
    answer(r.sentence),
    r.turn ? h("p", { class: "big-words" }, r.turn) : null,
    section("eye-more", "If you know more", "",
      entry("eye-defocus", "How far the focuser was moved, mm", {}, "number"),
      button(eye.busy ? "Measuring…" : "Measure with this", () => measure(fieldValue("eye-defocus")), { key: "with" })),
    eye.problem ? h("p", { role: "alert" }, eye.problem) : null,
    bullets(r.caveats),
    r.sides === 1
      ? h("section", { key: "other" },
          h("h2", {}, "From the other side of focus"),
          h("p", {}, "Rack the focuser in through focus, until the ring is as wide as it was. Both sides together tell whether the mirrors are tilted or the shadow is off-centre for another reason."),
          big("I see the ring again", otherSide, { key: "other-side" }))
      : null,
    (r.sides === 1 ? button : big)("Set it again", again));
}
