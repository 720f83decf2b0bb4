// The site from this phone, with consent. A browser gives its place only to a page that came over
// https or from the same device (W3C Geolocation, "secure contexts"); where it cannot, that is said.

import { h } from "./dom.js";
import { get, say } from "./store.js";
import { button, redraw } from "./parts.js";

const PATIENCE_MS = 60_000; // a first fix under trees takes that long
let asking = false;

/** @type {Record<number, string>} */
const WHY = {
  1: "This phone did not allow it. Allow the place for this page in the browser’s settings, or type it.",
  2: "This phone cannot tell where it is just now. Step into the open, or type it.",
  3: "This phone did not find its place within a minute. Step into the open and try again, or type it.",
};

/** Why the phone cannot be asked at all, or "". */
function cannot() {
  if (!("geolocation" in navigator)) return "This browser cannot tell the phone’s place: type it.";
  if (!isSecureContext) return "A phone tells its place only to a page over https: start the server with --https, or type the place.";
  return "";
}

/** @param {(place: any) => void} take */
function ask(take) {
  asking = true;
  redraw();
  const done = () => { asking = false; redraw(); };
  navigator.geolocation.getCurrentPosition(
    async ({ coords: c }) => {
      const far = Math.round(c.accuracy);
      const up = c.altitude === null ? null : Math.round(c.altitude);
      // The server knows the time zone that belongs to a place; without it the place serves alone.
      const query = encodeURIComponent(`${c.latitude.toFixed(5)}, ${c.longitude.toFixed(5)}`);
      const known = await get("/data/place", `?q=${query}`).catch(/** @returns {PlaceAnswer | null} */ () => null);
      take({ ...(known?.read || {}), lat_deg: c.latitude, lon_deg: c.longitude, elevation_m: up });
      say(`The phone’s place, good to about ${far} m${up === null ? "; it does not know the height" : ""}. Look it over, then save the site.`);
      done();
    },
    (e) => { say(WHY[e.code] || "The phone did not tell its place. Type it.", true); done(); },
    { enableHighAccuracy: true, timeout: PATIENCE_MS, maximumAge: 60_000 },
  );
}

/**
 * The button, with what pressing it means; `take` fills the form in, and nothing is saved.
 * @param {(place: any) => void} take
 */
export function placeOfPhone(take) {
  const no = cannot();
  return h("div", { key: "phone-place", id: "phone-place" },
    no
      ? h("p", { class: "note" }, no)
      : [
        h("p", { class: "note" }, "Pressing this asks the phone for its place, once. It goes to the telescope’s computer and no further, and is kept only when you save the site."),
        button(asking ? "Asking the phone…" : "Fill in this phone’s place", () => ask(take), { disabled: asking }),
      ]);
}
