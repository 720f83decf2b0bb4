// Collimation from a photograph of a star out of focus.

import { h } from "./dom.js";
import { say, told } from "./store.js";
import { answer, bullets, entry, fieldValue, redraw, section, toggle, ui } from "./parts.js";

const LONGEST_SIDE = 1600; // a phone's full picture is ten times what the measurement needs
const first = "first";
const second = "second";
/** @type {{ busy: string; result: PhotographAnswer | null; kept: Blob | null }} */
let picture = { busy: "", result: null, kept: null }; // kept: the first picture, for a pair

export function mirrors() {
  const r = picture.result;
  return h("div", { key: "photo" },
    h("p", { class: "answer" }, "A photograph of a star out of focus shows how the mirrors stand."),
    h("ol", { class: "steps" },
      h("li", {}, "Centre a bright star with a short eyepiece."),
      h("li", {}, "Rack the focuser out until the star is a broad ring with a dark middle."),
      h("li", {}, "Hold the phone to the eyepiece and take a picture, or use a camera.")),
    h("p", { class: "note" }, "The phone’s own picture chooser may be bright."),
    section("photo", "If you know more", "",
      entry("photo-ratio", "Focal ratio, if not the kit’s", {}, "number"),
      entry("photo-defocus", "How far the focuser was moved, mm", {}, "number"),
      entry("photo-up", "Where the tube’s top is in the picture, as on a clock", { value: "12" }, "number"),
      toggle("The picture is mirrored", Boolean(ui.mirrored), (on) => { ui.mirrored = on; redraw(); }, "as through a star diagonal")),
    chooser(first, r ? "Choose another picture" : "Choose a picture", r ? "next second" : "next"),
    r ? h("div", { key: "result", role: "status" },
      r.overlay ? h("div", { class: "photo-box" }, h("img", { class: "photo", src: r.overlay, alt: "The picture with the outer ring and the inner shadow drawn in" })) : null,
      answer(r.sentence),
      r.seen ? h("p", { class: "big-words" }, `As you stand at the eyepiece: toward ${r.seen}.`) : null,
      r.turn ? h("p", { class: "big-words" }, r.turn) : null,
      bullets(r.caveats),
      r.offset_percent !== null && r.offset_sigma_percent !== null && r.obstruction_percent !== null ? h("p", {}, `The shadow is off by ${r.offset_percent.toFixed(1)} ± ${r.offset_sigma_percent.toFixed(1)} parts in 100 of the ring’s radius; it is ${r.obstruction_percent.toFixed(0)} parts in 100 as wide as the ring.`) : null,
      r.can_judge && r.sides === 1 && picture.kept
        ? h("section", { key: "pair" },
            h("h2", {}, "From the other side of focus"),
            h("p", {}, "Rack the focuser in through focus, as far beyond it as it was out. The star in the middle, the same zoom, the phone held the same way. Both pictures together tell whether the mirrors are tilted (the error is called coma) or the shadow is off-centre for another reason."),
            chooser(second, "Add the second picture", "next"))
        : null) : null);
}

/**
 * @param {string} which
 * @param {string} words
 * @param {string} cls
 */
const chooser = (which, words, cls) =>
  h("label", { class: picture.busy === which ? `${cls} file busy` : `${cls} file`, key: which },
    picture.busy === which ? "Measuring…" : words,
    h("input", { type: "file", accept: "image/*", onchange: (e) => e.target.files?.[0] && send(e.target, e.target.files[0], which) }));

/**
 * @param {HTMLInputElement} input
 * @param {File} file
 * @param {string} which
 */
async function send(input, file, which) {
  picture = which === first ? { busy: first, result: null, kept: null } : { ...picture, busy: second };
  redraw();
  try {
    const small = await shrink(file);
    const asked = new URLSearchParams();
    for (const [name, id] of [["focal_ratio", "photo-ratio"], ["defocus_mm", "photo-defocus"], ["up_clock", "photo-up"]]) {
      if (fieldValue(id)) asked.set(name, fieldValue(id));
    }
    if (ui.mirrored) asked.set("mirrored", "1");
    // The first picture goes along, to be judged beside the second.
    const before = which === second ? picture.kept : null;
    if (before) asked.set("first", String(before.size));
    const body = before ? new Blob([before, small]) : small;
    const reply = await fetch(`/data/collimate?${asked}`, {
      method: "POST", headers: { "X-Plumbstar": "1", "Content-Type": body.type || "application/octet-stream" }, body,
    });
    const said = await reply.json();
    if (!reply.ok) say(told(said), true);
    else {
      say("");
      picture.result = said;
      if (which === first) picture.kept = small;
    }
  } catch {
    say("The picture could not be sent. Is it a photograph, and is the link up?", true);
  }
  picture.busy = "";
  input.value = "";
  redraw();
}

/**
 * Made smaller on the phone: a night's Wi-Fi is slow. If the phone cannot read it, sent as it is.
 * @param {File} file
 */
async function shrink(file) {
  let image;
  try {
    image = await createImageBitmap(file);
  } catch {
    return file;
  }
  const k = Math.min(1, LONGEST_SIDE / Math.max(image.width, image.height));
  if (k === 1 && file.size < 1e6) return file;
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(image.width * k);
  canvas.height = Math.round(image.height * k);
  const pen = canvas.getContext("2d");
  if (!pen) return file;
  pen.drawImage(image, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob((blob) => done(blob || file), "image/jpeg", 0.92));
}
