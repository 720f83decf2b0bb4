// Numbers into plain words. One place, so that every screen says a thing the same way.

/** "95 in 100": a chance as a person would say it. */
export function chance(p) {
  if (p === null || p === undefined || Number.isNaN(p)) return "unknown";
  const n = Math.round(p * 100);
  if (n >= 100) return "99 in 100";
  if (n <= 0) return "under 1 in 100";
  return `${n} in 100`;
}

/** Degrees, with only as many figures as a hand can use. */
export function degrees(d, figures) {
  if (d === null || d === undefined || Number.isNaN(d)) return "–";
  const n = figures ?? (Math.abs(d) < 0.995 ? 2 : Math.abs(d) < 99.95 ? 1 : 0);
  return `${d.toFixed(n).replace("-", "−")}°`;
}

export function signed(d, n = 2) {
  const size = Math.abs(d).toFixed(n);
  return `${Number(size) === 0 ? "" : d < 0 ? "−" : "+"}${size}°`;
}

export const round360 = (a) => ((a % 360) + 360) % 360;

/** What reversed circles show: the state and the stream speak in the mount's own sense. */
export const shownAz = (state, az) => round360(state?.kit?.circles?.az_reversed ? 360 - az : az);
export const shownAlt = (state, alt) => (state?.kit?.circles?.alt_reversed ? 90 - alt : alt);

/** The shorter way round, -180 to 180. */
export const turn = (a) => round360(a + 180) - 180;

const POINTS = [
  "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
];
export const compass = (az) => POINTS[Math.round(round360(az) / 45) % 8];

/** "high in the south-east". */
export function where(az, alt) {
  if (alt < 0) return `below the horizon in the ${compass(az)}`;
  if (alt > 80) return "almost overhead";
  const height = alt > 55 ? "high" : alt > 35 ? "halfway up" : alt > 18 ? "fairly low" : "low";
  return `${height} in the ${compass(az)}`;
}

export const side = (d) => (d >= 0 ? "right" : "left");
export const way = (d) => (d >= 0 ? "up" : "down");

/** How far off, in words: "0.4° right and 0.1° up of the middle". */
export function offset(right, up) {
  const parts = [[right, side], [up, way]].filter(([d]) => Math.abs(d) >= 0.01);
  return parts.length ? `${parts.map(([d, word]) => `${degrees(Math.abs(d))} ${word(d)}`).join(" and ")} of the middle` : "in the middle";
}

export function duration(seconds) {
  const s = Math.max(0, Math.round(seconds));
  if (s < 60) return `${s} s`;
  const m = Math.floor(s / 60);
  if (m < 60) return `${m} min ${s % 60} s`;
  return `${Math.floor(m / 60)} h ${m % 60} min`;
}

/** "18:22" from an ISO time: UTC. For a person at the site see hour(). */
export function clock(iso) {
  const m = /T(\d\d:\d\d)(:\d\d)?/.exec(iso || "");
  return m ? m[1] : iso || "";
}

/** The span of the site's clock that holds at an ISO time (state.clock: docs/sites.md). */
function span(state, iso) {
  const spans = state?.clock?.spans || [{ from: "", offset_s: 0, short: "UTC" }];
  return spans.filter((s) => Date.parse(s.from) <= Date.parse(iso)).pop() || spans[0];
}

/** "18:22" as a clock at the site shows it; `named` adds CET or the like. */
export function hour(state, iso, named = false) {
  const t = Date.parse(iso || "");
  if (Number.isNaN(t)) return "";
  const s = span(state, iso);
  const text = new Date(t + s.offset_s * 1000).toISOString().slice(11, 16);
  return named ? `${text} ${s.short}` : text;
}

/** Whose time the hours are, said once on a page. */
export const hoursOf = (state) => {
  const { zone, spans } = state?.clock || { zone: "UTC", spans: [] };
  if (zone === "UTC") return "Times are UTC.";
  const now = span(state, state.now);
  const turn = spans.find((s) => Date.parse(s.from) > Date.parse(state.now));
  return `Times are those of ${zone} (${now.short}).${turn ? ` Clocks change at ${hour({ clock: { spans: [now] } }, turn.from)} to ${turn.short}.` : ""}`;
};

export const plural = (n, one, many) => `${n} ${n === 1 ? one : many || one + "s"}`;

/** "Capella and Rigel", "Capella, Rigel and Deneb". */
export function list(names) {
  if (names.length < 2) return names.join("");
  return `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}`;
}

/** How bright, in a word and a number. */
export function brightness(v) {
  if (v === null || v === undefined) return "";
  return `magnitude ${v.toFixed(1).replace("-", "−")}`;
}

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** azimuth_zero -> azimuth zero. */
export const spaced = (name) => String(name).replace(/_/g, " ");

/** What pressing undo takes back, short enough for a button: "Undo: Capella sighted". */
export function undoWords(what) {
  const made = /^(a sighting|the find) of (.+)$/.exec(what);
  if (made) return `Undo: ${made[2]} ${made[1] === "the find" ? "found" : "sighted"}`;
  const marked = /^sighting \d+ \((.+)\) of outing \d+ (.+)$/.exec(what);
  if (marked) return `Undo: ${marked[1]} ${marked[2]}`;
  return /^a note/.test(what) ? "Undo: the note" : "Undo the last change";
}
