// What if? Another sky, other air, clouds in a quarter, one eyepiece, another site: the list answers while
// the slider moves. Nothing is changed by it until it is said so.

import { h } from "./dom.js";
import { act } from "./store.js";
import { button, choiceRow, redraw, section } from "./parts.js";

/** @type {[string, string][]} */
const QUARTERS = [["", "No clouds"], ["north", "North"], ["east", "East"], ["south", "South"], ["west", "West"]];
/** What a slider has from left to right: least, most, step. */
const SKY = [17, 22, 0.1], AIR = [1, 8, 0.5];

const nothing = () => ({ zenith: "", seeing: "", cloudy: "", eyepiece: "", site: "", settled: true });
let supposed = nothing();

/** Whether anything is supposed. */
export const supposing = () => Boolean(supposed.zenith || supposed.seeing || supposed.cloudy || supposed.eyepiece || supposed.site);

/** Whether a slider is under the finger: then drawings wait. */
export const moving = () => !supposed.settled;

/** What the address of the list says of it. */
export function supposedQuery() {
  if (!supposing()) return "";
  const { settled, ...what } = supposed;
  const said = Object.entries(what).filter(([, v]) => v).map(([k, v]) => `${k}=${encodeURIComponent(v)}`);
  return ["", "if=1", ...said, ...(settled ? ["settled=1"] : [])].join("&");
}

export function asItIs() {
  supposed = nothing();
  redraw();
}

/** @param {Partial<ReturnType<typeof nothing>>} what */
function suppose(what) {
  supposed = { ...supposed, settled: true, ...what };
  redraw();
}

/**
 * What is supposed stands above the list, with the ways back and on.
 * @param {Picture} state
 * @param {AgendaAnswer} plan
 */
export function supposedLine(state, plan) {
  if (!supposing()) return null;
  return h("div", { class: "beside", key: "supposed" },
    h("p", { role: "status" }, plan.supposed || "Just as it is."),
    h("div", { class: "row" },
      button("Back to what is", asItIs, { key: "back" }),
      supposed.zenith && !supposed.site ? button("Keep this sky for the site", () => keepSky(state, Number(supposed.zenith)), { key: "keep" }) : null));
}

/**
 * @param {Picture} state
 * @param {number} zenith
 */
async function keepSky(state, zenith) {
  const s = state.site;
  if (!s) return;
  /** @type {AskedSiteBody} */
  const site = { name: s.name, lat_deg: s.lat_deg, lon_deg: s.lon_deg, elevation_m: s.elevation_m, time_zone: s.time_zone, zenith_mag: zenith };
  if (await act("set_site", site, `Kept: the sky here is ${zenith.toFixed(1)} at the zenith.`)) suppose({ zenith: "" });
}

/**
 * A slider: while it moves the list is quick, and thorough once it rests.
 * @param {string} id
 * @param {string} label
 * @param {number} value
 * @param {number[]} reach
 * @param {(value: number) => string} words
 * @param {(value: string, settled: boolean) => void} set
 */
function slider(id, label, value, [min, max, step], words, set) {
  const shown = Math.min(max, Math.max(min, value));
  return h("label", { class: "slide", key: id }, h("span", {}, `${label}: ${words(value)}`),
    h("input", { type: "range", id, min, max, step, value: shown, "aria-label": label, "aria-valuetext": words(value),
      oninput: (e) => set(e.target.value, false), onchange: (e) => set(e.target.value, true) }));
}

/** @param {number} mag */
const skyWords = (mag) => `${mag < 18.5 ? "a city" : mag < 20 ? "a suburb" : mag < 21.3 ? "the country" : "a dark mountain"}, ${mag.toFixed(1)}`;
/** @param {number} arcsec */
const airWords = (arcsec) => `${arcsec < 2 ? "calm" : arcsec <= 3 ? "usual" : arcsec <= 5 ? "unsteady" : "boiling"}, stars ${arcsec.toFixed(1)}″ wide`;

/**
 * @param {Picture} state
 * @param {AgendaAnswer} plan
 */
export function whatIf(state, plan) {
  const eyepieces = state.kit?.eyepieces ?? [];
  const elsewhere = state.sites.filter((s) => s.name && s.name !== state.site?.name);
  return section("what-if", "What if?", supposing() ? "tried now" : "another sky, clouds, one eyepiece",
    slider("if-sky", "The sky overhead", Number(supposed.zenith || plan.zenith_mag), SKY, skyWords, (zenith, settled) => suppose({ zenith, settled })),
    slider("if-air", "The air", Number(supposed.seeing || plan.seeing_arcsec), AIR, airWords, (seeing, settled) => suppose({ seeing, settled })),
    choiceRow("if-cloudy", "Clouds in the", QUARTERS, supposed.cloudy, (cloudy) => suppose({ cloudy })),
    eyepieces.length > 1
      ? choiceRow("if-eyepiece", "With one eyepiece alone", [["", "All of them"], ...eyepieces.map((e) => /** @type {[string, string]} */ ([e.name, e.name]))], supposed.eyepiece, (eyepiece) => suppose({ eyepiece }))
      : null,
    elsewhere.length
      ? choiceRow("if-site", "Elsewhere", [["", "Here"], ...elsewhere.map((s) => /** @type {[string, string]} */ ([s.name, s.name]))], supposed.site, (site) => suppose({ site }))
      : null);
}
