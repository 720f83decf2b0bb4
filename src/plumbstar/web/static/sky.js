// The sky as the observer stands: overhead in the middle, the horizon round the edge, what is in
// front at the bottom, right hand to the right. The hit chance is shaded as an engraver would: by
// how much of each patch the ink covers, and only where it is low: most of a good sky is stars.

import { element } from "./dom.js";
import { compass, round360 } from "./words.js";

const R = 150;
/** Only where fewer targets are in the field is the sky shaded. */
export const GOOD = 0.9;
/** Breadth of a letter of each kind of name. @type {Record<string, number>} */
const WIDE = { point: 11, "chosen-name": 10, "figure-name": 6.5 };

/**
 * Where a direction falls, before turning: north at the bottom. Equidistant from overhead.
 * @param {number} az
 * @param {number} alt
 */
const spot = (az, alt) => {
  const r = (R * (90 - alt)) / 90;
  const a = (az * Math.PI) / 180;
  return [r * Math.sin(a), r * Math.cos(a)];
};

export function skyMap() {
  const svg = element("svg", { class: "sky", viewBox: "-178 -178 356 356", role: "img" });
  const wheel = element("g", {});
  const names = element("g", {});
  svg.append(wheel, names);
  /** @type {[any, number, number, number][]} */
  let upright = []; // [node, az, alt, width] to be kept level as the wheel turns
  let facing = 180;
  /** @type {[number, number][]} the rings about chosen stars, in which no figure's name is laid */
  let rings = [];

  function label(/** @type {number} */ az, /** @type {number} */ alt, /** @type {string} */ text, /** @type {string} */ cls) {
    const node = element("text", { class: cls, "text-anchor": "middle" }, text);
    names.append(node);
    upright.push([node, az, alt, text.length * (WIDE[cls] ?? 8)]);
  }

  function draw(/** @type {MapAnswer} */ data) {
    wheel.replaceChildren();
    names.replaceChildren();
    upright = [];
    rings = data.chosen.map((c) => [c.az_deg, c.alt_deg]);
    const dots = element("g", { class: "dots" });
    for (const c of data.cells || []) {
      const [x, y] = spot(c.az_deg, c.alt_deg);
      const k = R / 90;
      const wide = c.d_az_deg * Math.cos((c.alt_deg * Math.PI) / 180) * k;
      // Breadth in proportion to what is missing; patches where nothing hits all but touch.
      const most = 0.5 * Math.min(c.d_alt_deg * k, Math.max(wide, 0.6 * c.d_alt_deg * k)) * 0.96;
      const r = most * Math.max(0, 1 - c.hit_chance);
      if (c.hit_chance < GOOD && r > 0.3) dots.append(element("circle", { cx: x.toFixed(1), cy: y.toFixed(1), r: r.toFixed(2) }));
    }
    wheel.append(dots);
    for (const alt of [30, 60]) {
      wheel.append(element("circle", { r: (R * (90 - alt)) / 90, class: "ring" }));
    }
    const line = skylinePath(data.skyline_deg);
    if (line) wheel.append(element("path", { class: "ground", d: line }));
    wheel.append(element("circle", { r: R, class: "rim" }));
    for (let a = 0; a < 360; a += 5) {
      wheel.append(
        element("line", { class: "tick", y1: R, y2: R + (a % 45 ? (a % 15 ? 3 : 5) : 9), transform: `rotate(${-a})` }),
      );
    }
    // The corners that are too faint for the list of stars stand in the lines.
    for (const f of data.figures) {
      for (const [az0, alt0, az1, alt1] of f.lines_deg) {
        const [[x1, y1], [x2, y2]] = [spot(az0, alt0), spot(az1, alt1)];
        wheel.append(element("line", { class: "figure-line", x1: x1.toFixed(1), y1: y1.toFixed(1), x2: x2.toFixed(1), y2: y2.toFixed(1) }));
      }
    }
    // Names are laid down in the order of their worth; what would lie on another is left out.
    for (const s of data.chosen) {
      const [x, y] = spot(s.az_deg, s.alt_deg);
      wheel.append(element("circle", { class: "chosen", cx: x.toFixed(1), cy: y.toFixed(1), r: 11 }));
      label(s.az_deg, s.alt_deg, s.name, "chosen-name");
    }
    ["N", "NE", "E", "SE", "S", "SW", "W", "NW"].forEach((p, i) => label(45 * i, -9, p, "point"));
    for (const [what, body] of /** @type {[string, MapBody][]} */ ([["Moon", data.moon], ["Sun", data.sun]])) {
      if (body.alt_deg < 0) continue;
      const [x, y] = spot(body.az_deg, body.alt_deg);
      wheel.append(element("circle", { class: "body", cx: x.toFixed(1), cy: y.toFixed(1), r: 7 }));
      label(body.az_deg, body.alt_deg, what, "name");
    }
    const stars = (data.stars || []).slice().sort((a, b) => a.v_mag - b.v_mag);
    for (const s of stars) {
      const [x, y] = spot(s.az_deg, s.alt_deg);
      if (s.alt_deg < 0) continue;
      wheel.append(element("circle", { class: "star", cx: x.toFixed(1), cy: y.toFixed(1), r: Math.max(1.2, 4.2 - 0.9 * s.v_mag).toFixed(1) }));
      if (s.name && s.v_mag < 1.3 && !data.chosen.some((c) => c.name === s.name)) label(s.az_deg, s.alt_deg, s.name, "name");
    }
    for (const f of data.figures) {
      // The middle of its lines, by the vectors: an azimuth's mean is none across north.
      const ends = f.lines_deg.flatMap(([a, b, c, d]) => [spot(a, b), spot(c, d)]);
      const [x, y] = [0, 1].map((i) => ends.reduce((sum, p) => sum + p[i], 0) / ends.length);
      label((Math.atan2(x, y) * 180) / Math.PI, 90 - (90 * Math.hypot(x, y)) / R, f.name, "figure-name");
    }
    for (const s of data.sightings || []) {
      const [x, y] = spot(s.az_deg, s.alt_deg);
      wheel.append(element("circle", { class: "sighted", cx: x.toFixed(1), cy: y.toFixed(1), r: 9 }));
    }
    svg.setAttribute("aria-label", data.words);
    turnTo(facing);
  }

  function turnTo(/** @type {number} */ az) {
    facing = round360(az);
    // North lies at the bottom of the wheel; turning it by the facing azimuth brings that down.
    wheel.setAttribute("transform", `rotate(${facing.toFixed(1)})`);
    /** @type {number[][]} */
    const taken = [];
    for (const [node, a, alt, wide] of upright) {
      const [x, y] = spot(a - facing, alt);
      const drop = node.getAttribute("class") === "point" ? 6 : y > R - 30 ? -9 : 17;
      const at = [Math.max(wide / 2 - 176, Math.min(176 - wide / 2, x)), y + drop];
      const ringed = node.getAttribute("class") === "figure-name"
        && rings.map(([ra, ralt]) => spot(ra - facing, ralt)).some(([rx, ry]) => Math.abs(rx - at[0]) < wide / 2 + 11 && Math.abs(ry - at[1] + 5) < 18);
      const clash = ringed || taken.some((t) => Math.abs(t[0] - at[0]) < (t[2] + wide) / 2 && Math.abs(t[1] - at[1]) < 14);
      node.setAttribute("visibility", clash ? "hidden" : "visible");
      if (clash) continue;
      taken.push([...at, wide]);
      node.setAttribute("x", at[0].toFixed(1));
      node.setAttribute("y", at[1].toFixed(1));
    }
  }
  turnTo(facing);
  return { node: svg, draw, turnTo };
}

/**
 * The ground: everything between the skyline and the rim.
 * @param {[number, number][]} points
 */
function skylinePath(points) {
  if (points.length < 1) return "";
  const sorted = points.slice().sort((a, b) => a[0] - b[0]);
  const height = (/** @type {number} */ az) => {
    const n = sorted.length;
    for (let i = 0; i < n; i += 1) {
      const [a0, h0] = sorted[i];
      const [a1, h1] = sorted[(i + 1) % n];
      const span = round360(a1 - a0) || 360;
      const on = round360(az - a0);
      if (on <= span) return h0 + ((h1 - h0) * on) / span;
    }
    return 0;
  };
  let d = "";
  for (let az = 0; az <= 360; az += 2) {
    const [x, y] = spot(az, Math.max(0, height(az)));
    d += `${az ? "L" : "M"}${x.toFixed(1)},${y.toFixed(1)}`;
  }
  d += "Z";
  // The rim, the other way round, leaves the sky itself open.
  for (let az = 360; az >= 0; az -= 4) {
    const [x, y] = spot(az, 0);
    d += `${az < 360 ? "L" : "M"}${x.toFixed(1)},${y.toFixed(1)}`;
  }
  return `${d}Z`;
}

/**
 * @param {Picture} state
 * @param {number} az
 */
export const facingWords = (state, az) => `Facing ${compass(state, az)}, ${Math.round(round360(az))}°`;
