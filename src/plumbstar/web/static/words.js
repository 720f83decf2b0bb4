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

/** The span of the site's clock that holds at a moment, ms (docs/sites.md). */
const span = (clock, t) => clock.spans.filter((s) => Date.parse(s.from) <= t).pop() || clock.spans[0];

/** "2027-01-28 18:22:07 CET": a moment (ISO or ms) as a clock at the site shows it. */
function shown(clock, moment) {
  const t = typeof moment === "number" ? moment : Date.parse(moment || "");
  if (Number.isNaN(t)) return "";
  const s = span(clock, t);
  return `${new Date(t + s.offset_s * 1000).toISOString().slice(0, 19).replace("T", " ")} ${s.short}`;
}

/** "18:22"; `named` adds CET or the like. `of`: the state, or an outing of the log. */
export function hour(of, moment, named = false) {
  const text = shown(of.clock, moment);
  return named ? text.slice(11, 16) + text.slice(19) : text.slice(11, 16);
}

/** "18:22:07 CET" where seconds matter; `dated` puts the date before it. */
export const second = (of, moment, dated = false) => shown(of.clock, moment).slice(dated ? 0 : 11);

export const day = (of, moment) => shown(of.clock, moment).slice(0, 10);

/** Whose time the hours on the page are; the letters of the zone stand beside an hour. */
export const hoursOf = (state) => {
  const { zone, spans } = state.clock;
  if (zone === "UTC") return "Times are UTC.";
  const now = Date.parse(state.now);
  const turn = spans.find((s) => Date.parse(s.from) > now);
  return `Times are those of ${zone}.${turn ? ` Clocks change at ${hour({ clock: { spans: [span(state.clock, now)] } }, turn.from)} to ${turn.short}.` : ""}`;
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
