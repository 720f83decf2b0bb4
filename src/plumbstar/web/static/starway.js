// How to find a star with the eye: a drawing, and the same in words.

import { get, store } from "./store.js";
import { h } from "./dom.js";
import { redraw, ui } from "./parts.js";
import { hour } from "./words.js";

const MOST = 12;
/** @type {Map<string, WayAnswer | null>} */
const ways = new Map(); // star, dress and five minutes -> /data/way

/** @param {string} star */
function wayOf(star) {
  const s = store.state;
  const dress = ui.dress === "day" ? "day" : "night";
  // The sky turns: a new drawing every five minutes.
  const key = JSON.stringify([star, dress, s?.site, s?.skyline?.text, Math.floor((s?.server_unix_ms || 0) / 300_000)]);
  if (!ways.has(key) && !store.silent) {
    if (ways.size > MOST) ways.clear();
    ways.set(key, null);
    get("/data/way", `?star=${encodeURIComponent(star)}&dress=${dress}`).then((w) => { ways.set(key, w); redraw(); }, () => ways.delete(key));
  }
  return ways.get(key) ?? null;
}

/**
 * The drawing and its words.
 * @param {Picture} state
 * @param {string} star
 * @param {boolean} [alike] the stars that it may be taken for as well
 */
export function wayBlock(state, star, alike = false) {
  const w = state.site ? wayOf(star) : null;
  if (!w || !w.svg) return null;
  return h("section", { key: `way-${star}`, class: "starway" },
    h("h2", {}, `How to find ${star}${w.later ? `, at ${hour(state, w.at_utc)}` : ""}`),
    w.way ? h("p", { class: "big-words", key: "way" }, w.way) : null,
    h("p", { key: "place" }, w.place),
    h("img", { key: "drawn", class: "eyepiece-picture", alt: [w.way, w.place].filter(Boolean).join(" "), src: `data:image/svg+xml,${encodeURIComponent(w.svg)}` }),
    alike && w.alike.length ? h("ul", { class: "cautions", key: "alike" }, w.alike.map((a) => h("li", { key: a }, `Not ${a}`))) : null,
    h("p", { class: "note", key: "hand" }, `As you stand, up at the top. ${w.hand}`));
}
