// The skyline on a panorama strip: north at both ends, three units to a degree, so that a thumb
// can take hold of a point. Drag a point, or walk to it with Tab and move it with the arrow keys.

import { element } from "./dom.js";
import { compass, round360 } from "./words.js";

const U = 3;
const TOP = 80;
const W = 360 * U;
const H = TOP * U;
const GRIP = 28; // half of 56 px: a thumb

/**
 * `edited(points)` is called after every change. Returns {node, set(state), add()}.
 * @param {(points: number[][]) => void} edited
 */
export function panorama(edited) {
  const svg = element("svg", { class: "panorama", width: W, height: H + 46, viewBox: `0 -16 ${W} ${H + 46}` });
  const ground = element("path", { class: "ground" });
  const grips = element("g", {});
  /** @type {any[]} */
  const names = [];
  for (let alt = 0; alt <= TOP; alt += 20) {
    svg.append(element("line", { class: alt ? "ring" : "edge", x1: 0, x2: W, y1: H - alt * U, y2: H - alt * U }));
    for (let az = 0; alt && az < 360; az += 90) {
      svg.append(element("text", { class: "number", x: az * U + 4, y: H - alt * U - 4 }, `${alt}°`));
    }
  }
  for (let az = 0; az <= 360; az += 10) {
    svg.append(element("line", { class: "tick", x1: az * U, x2: az * U, y1: H, y2: H + (az % 45 ? 6 : 12) }));
  }
  for (let az = 0; az <= 360; az += 45) {
    const end = az === 0 ? "start" : az === 360 ? "end" : "middle";
    const name = element("text", { class: "point", x: az * U, y: H + 27, "text-anchor": end });
    names.push(name);
    svg.append(name);
  }
  svg.append(ground, grips);
  /** @type {number[][]} */
  let points = [];
  /** @type {Picture} */
  let state; // names the points of the compass

  const clampAlt = (/** @type {number} */ a) => Math.max(0, Math.min(TOP, a));
  function path() {
    if (!points.length) return ground.setAttribute("d", "");
    const s = points.slice().sort((a, b) => a[0] - b[0]);
    const [first, last] = [s[0], s[s.length - 1]];
    const span = first[0] + 360 - last[0] || 360;
    const north = last[1] + ((first[1] - last[1]) * (360 - last[0])) / span;
    const d = [[0, north], ...s, [360, north]].map(([a, h]) => `L${(a * U).toFixed(1)},${(H - h * U).toFixed(1)}`);
    ground.setAttribute("d", `M0,${H}${d.join("")}L${W},${H}Z`);
  }
  function put(/** @type {any} */ grip, /** @type {number[]} */ p) {
    grip.setAttribute("transform", `translate(${(p[0] * U).toFixed(1)} ${(H - p[1] * U).toFixed(1)})`);
    grip.setAttribute("aria-valuenow", Math.round(p[1]));
    grip.setAttribute("aria-valuetext", `${compass(state, p[0])}, azimuth ${Math.round(p[0])}, ${Math.round(p[1])} degrees high`);
    path();
  }
  function done() {
    edited(points.map(([a, h]) => [Math.round(a), Math.round(h)]).sort((a, b) => a[0] - b[0]));
  }
  function draw() {
    grips.replaceChildren();
    points.forEach((p) => grips.append(gripFor(p)));
    path();
  }
  function gripFor(/** @type {number[]} */ p) {
    const grip = element("g", {
      class: "grip", tabindex: 0, role: "slider", "aria-label": "Skyline point",
      "aria-valuemin": 0, "aria-valuemax": TOP, "aria-orientation": "vertical",
    });
    grip.append(element("circle", { r: GRIP, class: "reach" }), element("circle", { r: 9, class: "knob" }));
    /** @type {{ x: number; y: number; az: number; alt: number; k: number } | null} */
    let from = null;
    grip.addEventListener("pointerdown", (/** @type {PointerEvent} */ e) => {
      grip.setPointerCapture(e.pointerId);
      from = { x: e.clientX, y: e.clientY, az: p[0], alt: p[1], k: W / svg.getBoundingClientRect().width };
      e.preventDefault();
      grip.focus();
    });
    grip.addEventListener("pointermove", (/** @type {PointerEvent} */ e) => {
      if (!from) return;
      p[0] = Math.max(0, Math.min(359.9, from.az + ((e.clientX - from.x) * from.k) / U));
      p[1] = clampAlt(from.alt - ((e.clientY - from.y) * from.k) / U);
      put(grip, p);
    });
    const up = () => {
      if (from) done();
      from = null;
    };
    grip.addEventListener("pointerup", up);
    grip.addEventListener("pointercancel", up);
    grip.addEventListener("click", (/** @type {MouseEvent} */ e) => e.stopPropagation());
    grip.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => {
      const step = e.shiftKey ? 5 : 1;
      if (e.key === "ArrowUp") p[1] = clampAlt(p[1] + step);
      else if (e.key === "ArrowDown") p[1] = clampAlt(p[1] - step);
      else if (e.key === "ArrowLeft") p[0] = round360(p[0] - step);
      else if (e.key === "ArrowRight") p[0] = round360(p[0] + step);
      else if (e.key === "Delete" || e.key === "Backspace") {
        const next = grip.nextElementSibling || grip.previousElementSibling;
        points = points.filter((q) => q !== p);
        grip.remove();
        path();
        if (next) next.focus();
        e.preventDefault();
        return done();
      } else return;
      e.preventDefault();
      put(grip, p);
      done();
    });
    put(grip, p);
    return grip;
  }
  function addAt(/** @type {number} */ az, /** @type {number} */ alt) {
    const p = [az, alt];
    points.push(p);
    const grip = gripFor(p);
    grips.append(grip);
    path();
    grip.focus();
    done();
  }
  svg.addEventListener("click", (/** @type {MouseEvent} */ e) => {
    const box = svg.getBoundingClientRect();
    const k = W / box.width;
    addAt(((e.clientX - box.left) * k) / U, clampAlt((H + 16 - (e.clientY - box.top) * k) / U));
  });
  return {
    node: svg,
    set(/** @type {Picture} */ now) {
      state = now;
      names.forEach((name, i) => (name.textContent = compass(now, 45 * i)));
      points = now.skyline.points_deg.map((/** @type {number[]} */ p) => [p[0], p[1]]);
      draw();
    },
    /** A new point in the middle of the widest gap. */
    add() {
      const s = points.map((p) => p[0]).sort((a, b) => a - b);
      if (!s.length) return addAt(180, 10);
      let best = [0, 0];
      s.forEach((a, i) => {
        const gap = i + 1 < s.length ? s[i + 1] - a : s[0] + 360 - a;
        if (gap > best[0]) best = [gap, round360(a + gap / 2)];
      });
      addAt(best[1], 10);
    },
  };
}
