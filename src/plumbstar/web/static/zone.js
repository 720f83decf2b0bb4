// Whose clock: a site without a zone takes that of the phone beside the telescope, once.

import { act, keep, load } from "./store.js";

const KEY = "plumbstar.zone-told";
/** A phone whose clock is so many hours from the Sun's time there is not from there. Common practice, no source. */
const FARTHEST_H = 3.5;

/**
 * Whether a clock so far ahead of UTC may be that of a place.
 * @param {number} ahead_min
 * @param {number} lon_deg east positive
 */
export const plausible = (ahead_min, lon_deg) => {
  const off = ahead_min / 60 - lon_deg / 15;
  return Math.abs(off - 24 * Math.round(off / 24)) <= FARTHEST_H;
};

/**
 * Tell the site this phone's zone, where it has none and the zone can be that of the place. Told once: who then
 * takes it away wants UTC.
 * @param {Picture} state
 */
export function tellZone(state) {
  const s = state.site;
  if (!s || s.time_zone || state.rehearsal) return;
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const place = `${s.lat_deg},${s.lon_deg}`;
  if (!zone || zone === "UTC" || load(KEY, "") === place || !plausible(-new Date().getTimezoneOffset(), s.lon_deg)) return;
  keep(KEY, place);
  /** @type {AskedSiteBody} */
  const site = { name: s.name, lat_deg: s.lat_deg, lon_deg: s.lon_deg, elevation_m: s.elevation_m, time_zone: zone };
  if (s.zenith_mag !== null) site.zenith_mag = s.zenith_mag;
  act("set_site", site);
}
