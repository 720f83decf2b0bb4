// Collimation from a photograph of a star out of focus.

import { byEye, setting } from "./byeye.js";
import { h } from "./dom.js";
import { lensMm } from "./lens.js";
import { say, told } from "./store.js";
import { answer, bullets, choiceRow, entry, fieldValue, redraw, section, toggle, ui } from "./parts.js";

const LONGEST_SIDE = 1600; // a phone's full picture is ten times what the measurement needs
const first = "first";
const second = "second";
/** @typedef {{ blob: Blob; lens: number | null }} Sent what is sent of a picture: its pixels and its lens */
/** @type {{ busy: string; result: PhotographAnswer | null; kept: Sent[] }} */
let picture = { busy: "", result: null, kept: [] }; // kept: the first picture and the second

/** @type {[string, string][]} */
const WAYS = [["photo", "A photograph"], ["eye", "By eye"]];
/** @type {[string, string][]} */
const PLACES = [["middle", "In the middle"], ["aside", "Aside"], ["untold", "Nobody looked"]];

export function mirrors() {
  const byHand = ui.mirrorsWay === "eye";
  return h("div", { key: "mirrors" },
    byHand && setting() ? null : choiceRow("way", "How", WAYS, ui.mirrorsWay ?? "photo", (v) => { ui.mirrorsWay = v; redraw(); }),
    byHand ? byEye() : photograph());
}

function photograph() {
  const r = picture.result;
  return h("div", { key: "photo" },
    h("p", { class: "answer" }, "A photograph of a star out of focus shows how the mirrors stand."),
    h("ol", { class: "steps" },
      h("li", {}, "Centre a bright star with a short eyepiece."),
      h("li", {}, "Rack the focuser out until the star is a broad ring with a dark middle."),
      h("li", {}, "Hold the phone to the eyepiece and take a picture, or use a camera.")),
    h("p", { class: "note" }, "The phone’s own picture chooser may be bright. The picture’s place is not sent."),
    section("photo", "If you know more", "",
      entry("photo-ratio", "Focal ratio, if not the kit’s", {}, "number"),
      entry("photo-defocus", "How far the focuser was moved, mm", {}, "number"),
      entry("photo-up", "Where the tube’s top is in the picture, as on a clock", { value: "12" }, "number"),
      toggle("The picture is mirrored", Boolean(ui.mirrored), (on) => { ui.mirrored = on; redraw(); }, "as through a star diagonal")),
    choiceRow("star-place", "Where the star was in the eyepiece", PLACES, ui.starPlace ?? "untold", placed),
    chooser(first, r ? "Choose another picture" : "Choose a picture", r ? "next second" : "next"),
    r ? h("div", { key: "result", role: "status" },
      r.overlay ? h("div", { class: "photo-box" }, h("img", { class: "photo", src: r.overlay, alt: "The picture with the outer ring and the inner shadow drawn in" })) : null,
      answer(r.sentence),
      r.seen ? h("p", { class: "big-words" }, `As you stand at the eyepiece: toward ${r.seen}.`) : null,
      r.turn ? h("p", { class: "big-words" }, r.turn) : null,
      bullets(r.caveats),
      r.offset_percent !== null && r.offset_sigma_percent !== null && r.obstruction_percent !== null ? h("p", {}, `${r.sides === 2 ? "The coma is" : "The shadow is off by"} ${r.offset_percent.toFixed(1)} ± ${r.offset_sigma_percent.toFixed(1)} parts in 100 of the ring’s radius; ${r.sides === 2 ? "the shadow" : "it"} is ${r.obstruction_percent.toFixed(0)} parts in 100 as wide as the ring.`) : null,
      r.can_judge && r.sides === 1 && picture.kept.length
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
    h("input", { type: "file", accept: "image/*", onchange: (e) => e.target.files?.[0] && chosen(e.target, e.target.files[0], which) }));

/**
 * @param {HTMLInputElement} input
 * @param {File} file
 * @param {string} which
 */
async function chosen(input, file, which) {
  const before = which === first ? [] : picture.kept.slice(0, 1);
  picture = { busy: which, result: which === first ? null : picture.result, kept: before };
  redraw();
  const small = await shrink(file);
  input.value = "";
  if (small) await send([...before, small], which);
  else {
    say("This phone cannot read that picture. Share it as JPEG, and choose that.", true);
    picture.busy = "";
    redraw();
  }
}

/**
 * What was judged is judged again.
 * @param {string} place
 */
function placed(place) {
  ui.starPlace = place;
  redraw();
  if (picture.result && picture.kept.length && !picture.busy) send(picture.kept, picture.kept.length > 1 ? second : first);
}

/**
 * @param {Sent[]} pictures one, or both: racked out and racked in
 * @param {string} which
 */
async function send(pictures, which) {
  picture.busy = which;
  redraw();
  try {
    const asked = new URLSearchParams();
    for (const [name, id] of [["focal_ratio", "photo-ratio"], ["defocus_mm", "photo-defocus"], ["up_clock", "photo-up"]]) {
      if (fieldValue(id)) asked.set(name, fieldValue(id));
    }
    if (ui.mirrored) asked.set("mirrored", "1");
    asked.set("star", ui.starPlace ?? "untold");
    if (pictures.length > 1) asked.set("first", String(pictures[0].blob.size));
    pictures.forEach((p, i) => p.lens && asked.set(i ? "lens_second_mm" : "lens_mm", String(p.lens)));
    const body = pictures.length > 1 ? new Blob(pictures.map((p) => p.blob)) : pictures[0].blob;
    const reply = await fetch(`/data/collimate?${asked}`, {
      method: "POST", headers: { "X-Plumbstar": "1", "Content-Type": body.type || "application/octet-stream" }, body,
    });
    const said = await reply.json();
    if (!reply.ok) say(told(said), true);
    else {
      say("");
      picture.result = said;
      picture.kept = pictures;
    }
  } catch {
    say("The picture could not be sent. Is it a photograph, and is the link up?", true);
  }
  picture.busy = "";
  redraw();
}

/**
 * Made smaller on the phone: a night's Wi-Fi is slow. Drawn anew always, so that nothing but pixels
 * leaves the phone: a picture's file tells where it was taken. Of the rest only the lens is kept,
 * which tells what a slant look does. Null for a file that the phone cannot read.
 * @param {File} file
 * @returns {Promise<Sent | null>}
 */
async function shrink(file) {
  let image;
  try {
    image = await createImageBitmap(file);
  } catch {
    return null;
  }
  const lens = lensMm(new DataView(await file.slice(0, 1 << 18).arrayBuffer()));
  const k = Math.min(1, LONGEST_SIDE / Math.max(image.width, image.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(image.width * k);
  canvas.height = Math.round(image.height * k);
  const pen = canvas.getContext("2d");
  if (!pen) return null;
  pen.drawImage(image, 0, 0, canvas.width, canvas.height);
  // A small picture without losses stays so.
  const kind = k === 1 && file.type === "image/png" ? "image/png" : "image/jpeg";
  return new Promise((done) => canvas.toBlob((blob) => done(blob && { blob, lens }), kind, 0.92));
}
