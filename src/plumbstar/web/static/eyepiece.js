// The picture of the field: what the target should look like in this eyepiece, now.

import { get, store, whyNot } from "./store.js";
import { h } from "./dom.js";
import { redraw, section, ui } from "./parts.js";

/** @type {(EyepieceView & { of: string }) | null | undefined} */
let picture; // undefined until asked, null if there was no answer
let problem = "";
let asked = "";
let busy = false;

/** @param {TargetRecord} t */
async function refresh(t) {
  const s = store.state;
  if (!s) return;
  // The sky turns: a new picture every five minutes.
  const want = JSON.stringify([t.name, s.kit?.eyepiece, s.kit?.toml, ui.dress, Math.floor((s.server_unix_ms || 0) / 300_000)]);
  if (busy || want === asked || store.silent) return;
  busy = true;
  try {
    const p = await get("/data/eyepiece", `?dress=${ui.dress === "day" ? "day" : "night"}`);
    picture = { ...p, of: t.name };
    problem = "";
  } catch (e) {
    picture = null;
    problem = whyNot(e);
  } finally {
    asked = want;
    busy = false;
    redraw();
  }
}

/** @param {TargetRecord} t */
export function eyepieceBlock(t) {
  ui.open_eyepiece ??= true;
  if (ui.open_eyepiece) refresh(t);
  const p = picture && picture.of === t.name ? picture : null;
  return [section("eyepiece", "What it should look like", p ? `${p.eyepiece}` : "",
    p ? [
      h("p", { key: "seen" }, h("strong", {}, "Can I see it tonight? "), p.seen),
      p.seen_notes.map((n) => h("p", { class: "note", key: n }, n)),
      h("p", { key: "said" }, p.sentence),
      h("img", { key: "drawn", class: "eyepiece-picture", alt: `${p.label} in the ${p.eyepiece}: ${p.sentence}`, src: `data:image/svg+xml,${encodeURIComponent(p.svg)}` }),
      h("p", { class: "note", key: "ways" }, p.ways),
      p.notes.map((n) => h("p", { class: "note", key: n }, n)),
    ] : h("p", { key: "said" }, problem || "Drawing…")),
  p && section("finder", "In the finder", p.finder, [
    h("p", { key: "said" }, p.finder_sentence),
    h("img", { key: "drawn", class: "eyepiece-picture", alt: `${p.label} in the finder: ${p.finder_sentence}`, src: `data:image/svg+xml,${encodeURIComponent(p.finder_svg)}` }),
    h("p", { class: "note", key: "ways" }, p.finder_ways),
  ])];
}
