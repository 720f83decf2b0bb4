// Numbers into plain words. One place, so that every screen says a thing the same way.

/**
 * Degrees, with only as many figures as a hand can use.
 * @param {number} d
 * @param {number} [figures]
 */
export function degrees(d, figures) {
  if (d === null || d === undefined || Number.isNaN(d)) return "–";
  const n = figures ?? (Math.abs(d) < 0.995 ? 2 : Math.abs(d) < 99.95 ? 1 : 0);
  return `${d.toFixed(n).replace("-", "−")}°`;
}

/** @param {number} d */
export function signed(d, n = 2) {
  const size = Math.abs(d).toFixed(n);
  return `${Number(size) === 0 ? "" : d < 0 ? "−" : "+"}${size}°`;
}

/**
 * A term of the mount with its sigma, in its own unit: "+0.91° ± 0.05°".
 * @param {TermRecord | TermHistoryRecord} t
 */
export function signedTerm(t) {
  const percent = t.value_percent !== null;
  const [value, sigma, mark] = percent ? [t.value_percent, t.sigma_percent, "\u00a0%"] : [t.value_deg, t.sigma_deg, "°"];
  if (value === null) return "–";
  // What is not nought is not written as 0.00.
  const give = sigma === null ? "" : ` ± ${(sigma > 0 ? Math.max(sigma, 0.01) : 0).toFixed(2)}${mark}`;
  return `${signed(value).replace("°", mark)}${give}`;
}

/** @param {number} a */
export const round360 = (a) => ((a % 360) + 360) % 360;

/**
 * What reversed circles show: the state and the stream speak in the mount's own sense.
 * @param {Picture | null} state
 * @param {number} az
 */
export const shownAz = (state, az) => round360(state?.kit?.circles?.az_reversed ? 360 - az : az);
/**
 * @param {Picture | null} state
 * @param {number} alt
 */
export const shownAlt = (state, alt) => (state?.kit?.circles?.alt_reversed ? 90 - alt : alt);

/**
 * The shorter way round, -180 to 180.
 * @param {number} a
 */
export const turn = (a) => round360(a + 180) - 180;

/**
 * The nearest of the eight points that the picture names, from north through east.
 * @param {Picture} state
 * @param {number} az
 */
export const compass = (state, az) => state.compass[Math.round(round360(az) / 45) % 8];

/** @param {number} d */
export const side = (d) => (d >= 0 ? "right" : "left");
/** @param {number} d */
export const way = (d) => (d >= 0 ? "up" : "down");

/**
 * How far off, in words: "0.4° right and 0.1° up of the middle".
 * @param {number} right
 * @param {number} up
 */
export function offset(right, up) {
  const parts = [];
  if (Math.abs(right) >= 0.01) parts.push(`${degrees(Math.abs(right))} ${side(right)}`);
  if (Math.abs(up) >= 0.01) parts.push(`${degrees(Math.abs(up))} ${way(up)}`);
  return parts.length ? `${parts.join(" and ")} of the middle` : "in the middle";
}

/**
 * Where the target should be, beside the drawing of the field. The drawing stays a little beyond the field's
 * edge, so that it does not flutter; the words say on which side of the edge it is.
 * @param {FieldOffset} o
 * @param {number} field_deg
 */
export const whereInField = (o, field_deg) =>
  Math.hypot(o.right_deg, o.up_deg) <= field_deg / 2
    ? `In the field, likely ${offset(o.right_deg, o.up_deg)}. Look for it.`
    : `Just outside the field: likely ${offset(o.right_deg, o.up_deg)}. Push a little.`;

/**
 * The span of the site's clock that holds at a moment, ms (docs/sites.md).
 * @param {SiteClock} clock
 * @param {number} t
 */
const span = (clock, t) => clock.spans.filter((s) => Date.parse(s.from_utc) <= t).pop() || clock.spans[0];

/**
 * "2027-01-28 18:22:07 CET": a moment (ISO or ms) as a clock at the site shows it.
 * @param {SiteClock} clock
 * @param {string | number | null} moment null where no time is known
 */
function shown(clock, moment) {
  const t = typeof moment === "number" ? moment : Date.parse(moment || "");
  if (Number.isNaN(t)) return "";
  const s = span(clock, t);
  return `${new Date(t + s.offset_s * 1000).toISOString().slice(0, 19).replace("T", " ")} ${s.short}`;
}

/**
 * "18:22"; `named` adds CET or the like. `of`: the state, or an outing of the log.
 * @param {{ clock: SiteClock }} of
 * @param {string | number | null} moment
 */
export function hour(of, moment, named = false) {
  const text = shown(of.clock, moment);
  return named ? text.slice(11, 16) + text.slice(19) : text.slice(11, 16);
}

/**
 * "18:22:07 CET" where seconds matter; `dated` puts the date before it.
 * @param {{ clock: SiteClock }} of
 * @param {string | number} moment
 */
export const second = (of, moment, dated = false) => shown(of.clock, moment).slice(dated ? 0 : 11);

/**
 * @param {{ clock: SiteClock }} of
 * @param {string | number} moment
 */
export const day = (of, moment) => shown(of.clock, moment).slice(0, 10);

/**
 * Whose time the hours on the page are; the letters of the zone stand beside an hour.
 * @param {Picture} state
 */
export const hoursOf = (state) => {
  const { zone, spans } = state.clock;
  if (zone === "UTC") return "Times are UTC.";
  const now = Date.parse(state.now_utc);
  const turn = spans.find((s) => Date.parse(s.from_utc) > now);
  return `Times are those of ${zone}.${turn ? ` Clocks change at ${hour({ clock: { zone, spans: [span(state.clock, now)] } }, turn.from_utc)} to ${turn.short}.` : ""}`;
};

/**
 * @param {number} n
 * @param {string} one
 * @param {string} [many]
 */
export const plural = (n, one, many) => `${n} ${n === 1 ? one : many || one + "s"}`;

/**
 * "Capella and Rigel", "Capella, Rigel and Deneb".
 * @param {string[]} names
 */
export function list(names) {
  if (names.length < 2) return names.join("");
  return `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}`;
}

/**
 * Stars to be sighted one after another: "Capella, then Rigel".
 * @param {string[]} names
 */
export const inOrder = (names) => names.join(", then ");

/**
 * How bright, in a word and a number.
 * @param {number | null} v
 */
export function brightness(v) {
  if (v === null || v === undefined) return "";
  return `magnitude ${(Math.round(v * 10) / 10 + 0).toFixed(1).replace("-", "−")}`; // never "−0.0"
}

/** @param {string} text */
export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/**
 * What is wrong, as a whole sentence; nothing where nothing is.
 * @param {string | undefined} text
 */
export const whole = (text) => text ? capital(text).replace(/([^.?!])$/, "$1.") : "";

/**
 * azimuth_zero -> azimuth zero.
 * @param {string} name
 */
export const spaced = (name) => String(name).replace(/_/g, " ");
