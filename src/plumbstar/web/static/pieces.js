// The eyepieces that somebody has: put in one by one, a list to leave out from.

import { h } from "./dom.js";
import { say } from "./store.js";
import { millimetres } from "./lengths.js";
import { button, entry, field, fieldValue, numberIn, redraw, section, ui } from "./parts.js";

/**
 * As the fields of a form hold them.
 * @param {readonly { name: string; focal_length_mm: number; field_stop_mm: number | null; apparent_field_deg: number | null }[]} known
 */
export const typedPieces = (known) => known.map((p) => ({ name: p.name, focal: String(p.focal_length_mm), stop: p.field_stop_mm === null ? "" : String(p.field_stop_mm), apparent: p.apparent_field_deg === null ? "" : String(p.apparent_field_deg) }));

/** As they are sent. @param {PieceTyped[]} pieces */
export const sentPieces = (pieces) => pieces.map((p) => ({ name: p.name, focal_length_mm: numberIn(p.focal), field_stop_mm: p.stop ? numberIn(p.stop) : null, apparent_field_deg: p.stop ? null : numberIn(p.apparent) }));

/** @param {{ pieces: PieceTyped[] }} f */
export const pieceList = (f) => f.pieces.length ? h("ul", { class: "lines", key: "pieces" }, f.pieces.map((p, i) =>
  h("li", { key: `${p.name}${i}`, class: "planned" },
    h("span", {}, h("strong", {}, p.name), h("small", {}, p.stop ? `field stop ${p.stop} mm` : `${p.apparent}° apparent field`)),
    button("Leave out", () => { f.pieces = f.pieces.filter((_, k) => k !== i); redraw(); }, { "aria-label": `Leave out ${p.name}` })))) : null;

const FIELDS = ["piece-focal", "piece-apparent", "piece-stop"];

/** What is typed and not yet in the list goes in: whoever presses on has no need to press twice. @param {{ pieces: PieceTyped[] }} f */
export function takeTyped(f) {
  return FIELDS.every((id) => !fieldValue(id)) || addPiece(f);
}

/** @param {{ pieces: PieceTyped[] }} f */
function addPiece(f) {
  const [focal, stop] = ["piece-focal", "piece-stop"].map((id) => millimetres(fieldValue(id)));
  const apparent = numberIn(fieldValue("piece-apparent").replace(/deg\w*\.?$/i, ""));
  if (!(focal > 0) || !(apparent > 0 || stop > 0)) { say("Its focal length, and one of the two fields.", true); return false; }
  if (f.pieces.some((p) => p.name === `${focal} mm`)) { say(`The ${focal} mm is in the list already.`, true); return false; }
  f.pieces = [...f.pieces, { name: `${focal} mm`, focal: String(focal), apparent: stop > 0 ? "" : String(apparent), stop: stop > 0 ? String(stop) : "" }];
  for (const id of FIELDS) { const box = field(id); if (box) box.value = ""; }
  ui.padFor = "";
  say("");
  redraw();
  return true;
}

/** @param {{ pieces: PieceTyped[] }} f */
export function anotherPiece(f) {
  if (!f.pieces.length) ui["open_box-piece"] = true;
  return section("box-piece", f.pieces.length ? "Another eyepiece" : "An eyepiece", "",
    entry("piece-focal", "Focal length, mm", {}, "amount"),
    entry("piece-apparent", "Apparent field, degrees, as its maker says", {}, "amount"),
    entry("piece-stop", "Or the width of its field stop, mm", {}, "amount"),
    button("Add it", () => addPiece(f), { key: "add" }));
}
