// Two long graduated scales, like the circles on the mount, ruled as a slide rule is: close by the
// notch a tenth of a degree has room, far out ten degrees share it. So one ruling serves from half
// a turn down to the width of the field, nothing is ever redrawn, and the reading's mark only
// slides (one transform a frame).

import { element } from "./dom.js";

const ACROSS = 760; // along each scale, in units that come out at about half a pixel on a phone
const DOWN = 560;
const DEEP = 150; // across
const KNEE_DEG = 0.7; // inside this the ruling is even

/** @param {number} d */
const stretch = (d) => Math.asinh(d / KNEE_DEG);

/**
 * -1 to 1 for -most to most degrees from the notch.
 * @param {number} d
 * @param {number} most
 */
export function place(d, most) {
  const x = stretch(Math.max(-most, Math.min(most, d))) / stretch(most);
  return Math.max(-1, Math.min(1, x));
}

const RULES = [
  [0.1, 1, 14],
  [0.5, 5, 22],
  [1, 10, 22],
  [5, 45, 30],
  [15, 180, 30],
];
const NUMBERED = [0.5, 1, 2, 5, 10, 20, 45, 90, 180];

/**
 * One scale. `upright`: the altitude scale down the side; otherwise the azimuth scale across.
 * Returns {node, set(left_to_go_deg | null, dim)}: positive means right, or up, is still to go.
 * @param {boolean} upright
 * @param {number} most
 * @param {string} label
 */
export function scale(upright, most, label) {
  const LONG = upright ? DOWN : ACROSS;
  const half = LONG / 2 - 34;
  const w = upright ? DEEP : LONG;
  const h = upright ? LONG : DEEP;
  const svg = element("svg", {
    viewBox: `0 0 ${w} ${h}`,
    class: `scale ${upright ? "upright" : "level"}`,
    role: "img",
    "aria-label": label,
    preserveAspectRatio: "xMidYMid meet",
  });
  // A place along the scale as x or y; the ruled edge lies at `deep` across.
  const at = (/** @type {number} */ x) => LONG / 2 + x * half;
  const line = (/** @type {number} */ along, /** @type {number} */ from, /** @type {number} */ to, /** @type {string} */ cls) =>
    upright
      ? element("line", { x1: from, x2: to, y1: along, y2: along, class: cls })
      : element("line", { x1: along, x2: along, y1: from, y2: to, class: cls });
  const edge = 92;
  svg.append(
    upright
      ? element("line", { x1: edge, x2: edge, y1: 16, y2: LONG - 16, class: "edge" })
      : element("line", { x1: 16, x2: LONG - 16, y1: edge, y2: edge, class: "edge" }),
  );
  const drawn = new Set();
  for (const [step, until, length] of RULES) {
    for (let d = step; d <= Math.min(until, most) + 1e-9; d += step) {
      const key = d.toFixed(2);
      const big = NUMBERED.includes(Number(key));
      if (drawn.has(key) && !big) continue;
      drawn.add(key);
      for (const s of [-1, 1]) {
        const a = at(s * place(d, most));
        svg.append(line(a, edge - (big ? 38 : length), edge, big ? "tick big" : "tick"));
      }
    }
  }
  let last = 0;
  for (const d of NUMBERED) {
    if (d > most) break;
    const p = place(d, most) * half;
    if (p - last < (upright ? 44 : 64)) continue; // two figures side by side are no number
    last = p;
    for (const s of [-1, 1]) {
      const a = LONG / 2 + s * p;
      svg.append(
        element(
          "text",
          upright
            ? { x: edge - 44, y: a + 11, class: "number", "text-anchor": "end" }
            : { x: a, y: edge - 46, class: "number", "text-anchor": "middle" },
          String(d),
        ),
      );
    }
  }
  // The notch: cut through the ruled edge at the target.
  const c = LONG / 2;
  svg.append(
    element("path", {
      class: "notch",
      d: upright
        ? `M${edge - 54},${c - 15} L${edge + 2},${c} L${edge - 54},${c + 15} Z`
        : `M${c - 15},${edge - 54} L${c},${edge + 2} L${c + 15},${edge - 54} Z`,
    }),
  );
  // The reading: a broad hand below the edge, pointing at it.
  const hand = element("g", { class: "hand" });
  hand.append(
    element("path", {
      d: upright
        ? `M${edge + 3},0 L${edge + 36},-22 H${edge + 54} V22 H${edge + 36} Z`
        : `M0,${edge + 3} L-22,${edge + 36} V${edge + 54} H22 V${edge + 36} Z`,
    }),
  );
  svg.append(hand);
  let shown = "";
  return {
    node: svg,
    set(/** @type {number | null} */ toGo, /** @type {boolean} */ dim) {
      const x = toGo === null ? 0 : place(toGo, most) * half;
      // Right to go: the reading is left of the notch. Up to go: it is below it.
      const text = upright ? `translate(0 ${(c + x).toFixed(1)})` : `translate(${(c - x).toFixed(1)} 0)`;
      if (text !== shown) hand.setAttribute("transform", (shown = text));
      const cls = toGo === null ? "hand gone" : dim ? "hand dim" : "hand";
      if (hand.getAttribute("class") !== cls) hand.setAttribute("class", cls);
    },
  };
}

let serial = 0;

/**
 * A patch that fades to nothing at two and a half sigma: its own gradient, its own ellipse.
 * @param {any} svg
 */
export function soft(svg) {
  const id = `soft${(serial += 1)}`;
  const fade = element("radialGradient", { id });
  // A normal law, at its proper height: exp(-r^2/2) for r = 0 to 2.5 sigma.
  for (let i = 0; i <= 5; i += 1) {
    const r = i / 5;
    const stop = element("stop", { offset: r, class: "soft-stop" });
    stop.setAttribute("stop-opacity", (i === 5 ? 0 : Math.exp(-((2.5 * r) ** 2) / 2)).toFixed(3));
    fade.append(stop);
  }
  const defs = element("defs", {});
  defs.append(fade);
  svg.append(defs);
  return `url(#${id})`;
}

/**
 * The eyepiece's true field as a plain disc, up at the top. Returns {node, set(offset, patch, field)}:
 * offset {right_deg, up_deg} of the target's likeliest place from the middle, patch {major_deg, minor_deg,
 * angle_deg} at one sigma (angle from right toward up), all in degrees.
 * @param {string} label
 */
export function disc(label) {
  const svg = element("svg", { viewBox: "-110 -110 220 220", class: "disc", role: "img", "aria-label": label });
  const fill = soft(svg);
  const clip = element("clipPath", { id: `field${serial}` });
  clip.append(element("circle", { r: 100 }));
  svg.append(clip);
  const inside = element("g", { "clip-path": `url(#field${serial})` });
  const patch = element("ellipse", { fill, class: "patch" });
  inside.append(patch);
  svg.append(
    inside,
    element("circle", { r: 100, class: "rim" }),
    element("path", { class: "cross", d: "M-14,0H-4M4,0H14M0,-14V-4M0,4V14" }),
  );
  for (let a = 0; a < 360; a += 15) {
    svg.append(
      element("line", { class: "tick", x1: 0, x2: 0, y1: -100, y2: a % 45 ? -104 : -108, transform: `rotate(${a})` }),
    );
  }
  let shape = "";
  return {
    node: svg,
    set(/** @type {FieldOffset | null} */ offset, /** @type {PatchRecord | null} */ p, /** @type {number} */ field) {
      const u = 200 / field; // units a degree
      const now = p ? [p.major_deg, p.minor_deg, p.angle_deg, field].join() : "";
      if (p && now !== shape) {
        shape = now;
        // The radius of the gradient's ellipse is two and a half sigma.
        patch.setAttribute("rx", Math.max(5, 2.5 * p.major_deg * u).toFixed(1));
        patch.setAttribute("ry", Math.max(5, 2.5 * p.minor_deg * u).toFixed(1));
        // A patch that fills the field is spread thin: less light in a dark-adapted eye.
        patch.setAttribute("opacity", Math.min(0.95, 0.4 + 0.14 * (field / p.major_deg)).toFixed(2));
      }
      if (!offset) return;
      const turn = p ? -p.angle_deg : 0;
      patch.setAttribute(
        "transform",
        `translate(${(offset.right_deg * u).toFixed(1)} ${(-offset.up_deg * u).toFixed(1)}) rotate(${turn.toFixed(1)})`,
      );
    },
  };
}

const AHEAD = 5;

/**
 * The sweep: one circle for each field to look into, in order; seen ones filled, the next one heavy.
 * @param {SweepRecord} sweep
 * @param {number} field
 */
export function sweepPath(sweep, field) {
  const r = field / 2;
  const xs = sweep.stops_deg.map((s) => s[0]);
  const ys = sweep.stops_deg.map((s) => -s[1]);
  const m = r * 1.15;
  const x0 = Math.min(...xs) - m;
  const y0 = Math.min(...ys) - m;
  const w = Math.max(...xs) + m - x0;
  const h = Math.max(...ys) + m - y0;
  const k = 300 / Math.max(w, h); // to units in which line widths and letters are sized
  const svg = element("svg", {
    class: "sweep",
    viewBox: `0 0 ${(w * k).toFixed(1)} ${(h * k).toFixed(1)}`,
    role: "img",
    "aria-label": `The search path: ${sweep.stops_deg.length} fields, ${sweep.index} seen, field ${sweep.index + 1} is next`,
  });
  const P = sweep.stops_deg.map((s) => [(s[0] - x0) * k, (-s[1] - y0) * k]);
  svg.append(element("polyline", { class: "thread", points: P.slice(0, sweep.index + AHEAD + 1).map((p) => p.map((v) => v.toFixed(1)).join()).join(" ") }));
  const size = Math.min(17, 1.1 * r * k);
  P.forEach(([x, y], i) => {
    const cls = i < sweep.index ? "seen" : i === sweep.index ? "next" : i <= sweep.index + AHEAD ? "later" : "far";
    svg.append(element("circle", { class: cls, cx: x.toFixed(1), cy: y.toFixed(1), r: (r * k).toFixed(1) }));
  });
  // Numbers for the next few only: the way beyond them is seen without.
  P.slice(0, sweep.index + AHEAD + 1).forEach(([x, y], i) => {
    if (i < sweep.index - 3) return;
    svg.append(element("text", { class: "stop", x: x.toFixed(1), y: (y + 0.36 * size).toFixed(1), "font-size": size.toFixed(1), "text-anchor": "middle" }, String(i + 1)));
  });
  return svg;
}

/**
 * A small field round a star, to tell it from its look-alikes. Letters mark the named ones.
 * @param {AroundAnswer} around
 * @param {string} star
 * @param {LookalikeRecord[]} lookalikes
 */
export function starField(around, star, lookalikes) {
  const R = around.radius_deg;
  const u = 100 / R;
  const svg = element("svg", { viewBox: "-108 -108 216 216", class: "around", role: "img",
    "aria-label": `The sky round ${star}, ${Math.round(2 * R)} degrees across, up at the top` });
  svg.append(element("circle", { r: 104, class: "rim" }));
  const size = (/** @type {number} */ v) => Math.max(0.8, 7 - 1.25 * v).toFixed(1);
  for (const s of around.stars) {
    const x = s.right_deg * u;
    const y = -s.up_deg * u;
    if (Math.hypot(x, y) > 102) continue;
    svg.append(element("circle", { cx: x.toFixed(1), cy: y.toFixed(1), r: size(s.v_mag), class: "star" }));
  }
  svg.append(element("circle", { r: 15, class: "ring" }));
  lookalikes.forEach((s, i) => {
    const x = s.right_deg * u;
    const y = -s.up_deg * u;
    if (Math.hypot(x, y) > 104) return;
    svg.append(
      element("path", { class: "cut", d: `M${x - 13},${y - 13}L${x - 6},${y - 6}M${x + 13},${y - 13}L${x + 6},${y - 6}M${x - 13},${y + 13}L${x - 6},${y + 6}M${x + 13},${y + 13}L${x + 6},${y + 6}` }),
      element("text", { class: "letter", x: (x + (x > 70 ? -18 : 16)).toFixed(1), y: (y + 5).toFixed(1), "text-anchor": x > 70 ? "end" : "start" }, String.fromCharCode(65 + i)),
    );
  });
  return svg;
}
