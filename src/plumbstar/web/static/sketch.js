// A sketch by finger: strokes in the circle of the field, or a photograph of one on paper.

import { element, h } from "./dom.js";
import { act, say, uuid } from "./store.js";
import { button, redraw } from "./parts.js";

/** Strokes being drawn, by object: thousandths of the field's radius, right and down. @type {Map<string, [number, number][][]>} */
const drawn = new Map();
/** Nearer points than this tell nothing more; longer sketches are refused by the log. */
const STEP = 8;
const LARGEST = 430_000; // bytes of a picture: a third more as base64

/**
 * @param {string} name
 * @param {string} what
 */
export function sketchBlock(name, what) {
  const strokes = drawn.get(name) ?? [];
  return [
    h("p", { class: "note", key: "how" }, "Draw in the circle with a finger, as the eyepiece shows it. A tap makes a star."),
    h("div", { class: "sketch-box", raw: true, key: `paper-${name}`, ref: (el) => el.append(paper(name, what)) }),
    h("div", { class: "row", key: "deeds" },
      button("Save the sketch", () => save(name), { key: "save", disabled: !strokes.length }),
      button("Last stroke away", () => { strokes.pop(); repaint(name); redraw(); }, { key: "less", disabled: !strokes.length })),
    h("label", { class: "button file", key: "photo" }, "Or a photograph of a sketch on paper",
      h("input", { type: "file", accept: "image/*", onchange: (e) => photo(name, e.target) })),
  ];
}

/** @param {string} name */
async function save(name) {
  const strokes = drawn.get(name) ?? [];
  if (!strokes.length) return say("Nothing is drawn yet.", true);
  if (await act("sketch", { id: uuid(), target: name, kind: "strokes", body: JSON.stringify(strokes) }, "The sketch is in the log.")) {
    drawn.delete(name);
    repaint(name);
    redraw();
  }
}

/** @type {Map<string, any>} */
const papers = new Map();

/** @param {string} name */
function repaint(name) {
  const ink = papers.get(name);
  if (ink) ink.setAttribute("d", pathOf(drawn.get(name) ?? []));
}

/** A star: a ring so small that its line fills it. */
const DOT = "m-10 0a10 10 0 1 0 20 0a10 10 0 1 0-20 0";

/**
 * A stroke of one point is a dot.
 * @param {[number, number][][]} strokes
 */
export const pathOf = (strokes) => strokes.map((s) =>
  `M${s[0][0]} ${s[0][1]}${s.length === 1 ? DOT : s.slice(1).map(([x, y]) => `L${x} ${y}`).join("")}`).join("");

/**
 * The circle to draw in. Points outside of it are kept: a hand does not stop at a line.
 * @param {string} name
 * @param {string} what
 */
function paper(name, what) {
  const svg = element("svg", { class: "sketch", viewBox: "-1060 -1060 2120 2120", role: "img", "aria-label": `Paper for a sketch of ${what}` });
  const ink = element("path", { class: "ink", d: pathOf(drawn.get(name) ?? []) });
  svg.append(element("circle", { class: "rim", r: 1000 }), ink);
  papers.set(name, ink);
  /** @type {[number, number][] | null} */
  let stroke = null;
  const at = (/** @type {any} */ e) => {
    const box = svg.getBoundingClientRect();
    const [x, y] = [(e.clientX - box.left) / box.width, (e.clientY - box.top) / box.height];
    return /** @type {[number, number]} */ ([Math.round(x * 2120 - 1060), Math.round(y * 2120 - 1060)]);
  };
  svg.addEventListener("pointerdown", (/** @type {any} */ e) => {
    e.preventDefault();
    svg.setPointerCapture(e.pointerId);
    stroke = [at(e)];
    const strokes = drawn.get(name) ?? [];
    strokes.push(stroke);
    drawn.set(name, strokes);
    repaint(name);
  });
  svg.addEventListener("pointermove", (/** @type {any} */ e) => {
    if (!stroke) return;
    const [p, last] = [at(e), stroke[stroke.length - 1]];
    if (Math.hypot(p[0] - last[0], p[1] - last[1]) < STEP) return;
    stroke.push(p);
    repaint(name);
  });
  const end = () => { stroke = null; redraw(); };
  svg.addEventListener("pointerup", end);
  svg.addEventListener("pointercancel", end);
  return svg;
}

/**
 * One that is in the log.
 * @param {LoggedSketch} s
 * @param {string} label
 */
export function sketchShown(s, label) {
  if (!s.path) return h("div", { class: "photo-box", key: `sketch-${s.id}` }, h("img", { class: "photo", src: `/data/sketch/${s.id}`, alt: `Sketch of ${label}` }));
  return h("div", { class: "sketch-box", raw: true, key: `sketch-${s.id}`, ref: (/** @type {any} */ el) => {
    const svg = element("svg", { class: "sketch", viewBox: "-1060 -1060 2120 2120", role: "img", "aria-label": `Sketch of ${label}` });
    svg.append(element("circle", { class: "rim", r: 1000 }), element("path", { class: "ink", d: s.path }));
    el.append(svg);
  } });
}

/**
 * A photograph, made small on the phone before it is sent.
 * @param {string} name
 * @param {HTMLInputElement} input
 */
async function photo(name, input) {
  const file = input.files?.[0];
  if (!file) return;
  try {
    const picture = await createImageBitmap(file);
    for (const most of [1200, 800, 500]) {
      const k = Math.min(1, most / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.round(picture.width * k);
      canvas.height = Math.round(picture.height * k);
      canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
      const url = canvas.toDataURL("image/jpeg", 0.75);
      const body = url.slice(url.indexOf(",") + 1);
      if (body.length * 0.75 > LARGEST) continue;
      await act("sketch", { id: uuid(), target: name, kind: "jpeg", body }, "The picture is in the log.");
      input.value = "";
      return;
    }
    say("That picture cannot be made small enough. Cut it to the sketch alone.", true);
  } catch {
    say("That file is no picture that this phone can read.", true);
  }
}
