// Where you stand: coordinates in any form, a town, or a place used before.

import { h } from "./dom.js";
import { act, get, say, whyNot } from "./store.js";
import { placeOfPhone } from "./place.js";
import { big, button, choiceRow, entry, numberIn, redraw, section, ui } from "./parts.js";

/** V magnitudes a square arcsecond at the zenith. Common practice, no source. */
const SKIES = [["18", "City"], ["19.5", "Suburb"], ["20.5", "Village"], ["21.3", "Country"], ["21.8", "Mountain"]];

/** @type {ReturnType<typeof fields> | null} */
let draft = null; // what stands in the fields; null while they show the site as it is
/** @type {PlaceAnswer | null} */
let found = null; // what the server made of the place typed
let timer = 0;
let typed = "";

/** @param {unknown} x */
const text = (x) => (x === null || x === undefined ? "" : String(x));
/** @param {any} s */
const fields = (s) => ({
  name: s?.name || "", lat: text(s?.lat_deg), lon: text(s?.lon_deg), elev: text(s?.elevation_m),
  zone: s?.time_zone || "", sky: text(s?.zenith_mag),
});

/** @param {string} value */
function ask(value) {
  typed = value;
  clearTimeout(timer);
  timer = setTimeout(async () => {
    const mine = typed.trim();
    /** @type {PlaceAnswer | null} */
    let reply = null;
    if (mine.length > 1) {
      reply = await get("/data/place", `?q=${encodeURIComponent(mine)}`)
        .catch(/** @returns {PlaceAnswer} */ (e) => ({ read: null, sites: [], towns: [], error: whyNot(e) }));
      if (mine !== typed.trim()) return; // more was typed since
    }
    found = reply;
    redraw();
  }, 250);
}

function clear() {
  clearTimeout(timer);
  draft = found = null;
  typed = "";
  ui.padFor = "";
}

/**
 * As it stands in the fields: to a metre or so, more figures would only be in the way.
 * @param {SiteRecord | TownRecord} p
 */
const filled = (p) => ({
  ...fields(p), lat: text(+p.lat_deg.toFixed(5)), lon: text(+p.lon_deg.toFixed(5)),
  elev: "elevation_m" in p && p.elevation_m ? p.elevation_m.toFixed(0) : "",
});

/**
 * Put a place into the fields; how dark its sky is nobody has said yet.
 * @param {SiteRecord | TownRecord} p
 */
function take(p) {
  clear();
  draft = filled(p);
  redraw();
  say(draft.elev ? "Filled in. Check it, then save." : "Filled in. Add the height if you know it, then save.");
  // After the list above it is gone from the page.
  setTimeout(() => document.getElementById("site-lat")?.scrollIntoView({ block: "center" }), 60);
}

function done() {
  clear();
  ui.open_site = false;
  redraw();
  scrollTo(0, 0);
}

/** @param {Picture} state */
async function save(state) {
  const d = draft || fields(state.site);
  /** @type {AskedSiteBody} */
  const site = {
    name: d.name.trim(), lat_deg: numberIn(d.lat), lon_deg: numberIn(d.lon),
    elevation_m: d.elev.trim() === "" ? 0 : numberIn(d.elev), time_zone: d.zone.trim(),
  };
  const before = fields(state.site);
  if (typed.trim() && d.lat === before.lat && d.lon === before.lon) return saveTyped(state);
  if (![site.lat_deg, site.lon_deg, site.elevation_m].every(Number.isFinite)) {
    return say("Latitude, longitude and height must be numbers, as 47.2.", true);
  }
  if (d.sky.trim() !== "") {
    site.zenith_mag = numberIn(d.sky);
    if (!Number.isFinite(site.zenith_mag)) {
      return say("The darkness of the sky must be a number, as 21.3. Leave it empty if you do not know it.", true);
    }
  }
  if (await act("set_site", site, site.name ? `Saved as ${site.name}.` : "Site saved.")) done();
}

/**
 * Typed above, and the line that came of it not tapped: if it is one place, that one is meant.
 * @param {Picture} state
 */
async function saveTyped(state) {
  let reply;
  try {
    reply = await get("/data/place", `?q=${encodeURIComponent(typed.trim())}`);
  } catch (e) {
    return say(whyNot(e), true);
  }
  if (reply.error) return say(reply.error, true);
  const places = [...(reply.read ? [reply.read] : []), ...reply.towns];
  if (places.length !== 1 || reply.sites.length) {
    found = reply;
    redraw();
    document.getElementById("site-place")?.scrollIntoView({ block: "center" });
    return say(places.length || reply.sites.length ? "Several places are called so: tap yours in the list." : "No place by that name is known here: type its coordinates.", true);
  }
  const first = state.site ? null : draft; // of the first site the rest may be filled in already
  clear();
  draft = filled(places[0]);
  if (first) draft = { ...draft, name: first.name || draft.name, sky: first.sky };
  save(state);
}

/** @param {any} s */
const use = async (s) => (await act("use_site", { name: s.name }, `You stand at ${s.name}.`)) && done();

/**
 * @param {string} key
 * @param {Kids} strong
 * @param {Kids} small
 * @param {Handler} onclick
 */
const row = (key, strong, small, onclick, props = {}) =>
  h("li", { key }, button(h("span", {}, h("strong", {}, strong), h("small", {}, small)), onclick, { class: "line", ...props }));

/** @param {PlaceAnswer} answer */
function results({ read, sites, towns, error }) {
  return h("div", { key: "found", role: "status" },
    error ? h("p", { class: "warning" }, error) : null,
    read ? h("ul", { class: "lines" },
      row("read", read.words, read.time_zone ? `Time zone ${read.time_zone}, that of the nearest town.` : "No town is near: times will be UTC.", () => take(read))) : null,
    sites.length ? [h("h3", {}, "Sites you keep"), h("ul", { class: "lines" }, sites.map((s) => row(s.name, s.name, s.words, () => use(s))))] : null,
    towns.length
      ? [h("h3", {}, "Towns"),
        h("ul", { class: "lines" }, towns.map((t, i) => row(`${i}${t.label}`, t.label, `${t.words}. ${t.time_zone}`, () => take(t)))),
        h("p", {}, "The middle of a town will do to start with. The height above the sea is on a map.")]
      : null);
}

/** @param {Picture} state */
function keptSites(state) {
  const here = state.site?.name;
  return state.sites.length
    ? h("div", { key: "kept" },
      h("h3", {}, "Sites you keep"),
      h("ul", { class: "lines" }, state.sites.map((s) =>
        row(s.name, s.name, s.name === here ? `${s.words}. In use.` : s.words, () => use(s), s.name === here ? { "aria-current": "true" } : {}))))
    : null;
}

/** @param {Picture} state */
function forget(state) {
  const here = state.sites.find((s) => s.name === state.site?.name);
  return here
    ? button(`Take ${here.name} off the list`, () => act("forget_site", { name: here.name }, `${here.name} is off the list. You still stand there.`), { class: "quiet", key: "forget" })
    : null;
}

/** @param {Picture} state */
export function siteSection(state) {
  const s = state.site;
  const d = draft || fields(s);
  const change = (/** @type {string} */ key, /** @type {string} */ value) => {
    draft = { ...(draft || fields(state.site)), [key]: value };
    redraw();
  };
  const field = (/** @type {keyof typeof d} */ key) => ({ value: d[key], oninput: (/** @type {any} */ e) => change(key, e.target.value) });
  return section(
    "site", "Where you stand", s ? s.name || s.words : "not yet known",
    entry("site-place", "Coordinates, or a town", { value: typed, oninput: (e) => ask(e.target.value) }, "plain"),
    found
      ? results(found)
      : [h("p", { key: "hint" }, "Coordinates in any usual form, as 47°12'N 11°36'E 940 m. A tenth of a degree will do, a hundredth is better."), keptSites(state)],
    placeOfPhone(take),
    h("h3", { id: "site-fields", key: "fields" }, "The site"),
    entry("site-name", "Name, to keep it for other nights", field("name"), "plain"),
    entry("site-lat", "Latitude, degrees; north is plus", field("lat"), "number"),
    entry("site-lon", "Longitude, degrees; east is plus", field("lon"), "number"),
    entry("site-elev", "Height above the sea, metres", field("elev"), "number"),
    entry("site-zone", "Time zone, as Europe/Rome", { ...field("zone"), placeholder: "UTC" }, "plain"),
    choiceRow("sky", "How dark the sky gets overhead", SKIES.map(([v, word]) => [v, h("span", {}, word, h("small", {}, v))]), d.sky, (v) => change("sky", v)),
    entry("site-sky", "Or as measured, magnitudes a square arcsecond", field("sky"), "number"),
    h("p", { key: "rule" }, "A larger number is darker. The words are a rule of thumb, for nights without Moon. Which objects you can see is judged by this."),
    s ? button("Save the site", () => save(state), { key: "save" }) : big("Save the site", () => save(state), { key: "first" }),
    forget(state),
  );
}
