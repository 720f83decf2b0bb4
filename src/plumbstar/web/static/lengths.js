// Lengths as they stand on a tube or in its papers: “8 inch”, “20 cm”, “200 mm f/6”; what was understood is said.

const MM = { mm: 1, cm: 10, m: 1000, inch: 25.4 };
/** @type {[RegExp, keyof typeof MM][]} */
const UNITS = [[/^(?:mm|millimet(?:er|re)s?)\.?$/, "mm"], [/^(?:cm|centimet(?:er|re)s?)\.?$/, "cm"], [/^(?:m|met(?:er|re)s?)\.?$/, "m"], [/^(?:["”″]|''|’’|′′|-?in(?:ch(?:es)?)?\.?|zoll)$/, "inch"]];
/** A number alone below this is of inches: no telescope for this is so few millimetres wide. Common practice, no source. */
const INCHES_BELOW = 40;
/** Focal lengths are so many apertures, common practice, no source. */
const RATIOS = [2, 20];

/** @param {string} text */
const plain = (text) => text.toLowerCase().replace(/,/g, ".").replace(/½/g, ".5").replace(/¼/g, ".25").replace(/¾/g, ".75").replace(/(\d)\s+1\/2/g, "$1.5").trim();

/** A number and its unit, null where it is neither. @param {string} text @returns {{ n: number; unit: keyof typeof MM | "" } | null} */
function measured(text) {
  const found = /^(\d*\.?\d+)\s*(.*)$/.exec(plain(text));
  if (!found) return null;
  const unit = found[2] === "" ? "" : UNITS.find(([pattern]) => pattern.test(found[2]))?.[1];
  return unit === undefined ? null : { n: Number(found[1]), unit };
}

/** @param {number} n */
const short = (n) => String(Math.round(n * 100) / 100);

/**
 * A length in mm, NaN where it is none.
 * @param {string} text
 */
export function millimetres(text) {
  const m = measured(text);
  return m ? Math.round(m.n * MM[m.unit || "mm"] * 100) / 100 : NaN;
}

/**
 * Aperture and focal length as they were typed, each in whatever way; NaN for what was not understood. `said`: what was
 * understood, wherever that is not what was typed.
 * @param {string} apertureTyped
 * @param {string} focalTyped
 */
export function tube(apertureTyped, focalTyped) {
  /** @type {string[]} */
  const said = [];
  // “200 mm f/6” or “200/1200” holds both.
  const text = apertureTyped.trim();
  const both = /^(\S.*?)[\s,;]*(f\s*[/:]?\s*\d.*)$/i.exec(text) ?? /^(\d[^/]*)\/\s*(\d{3,}.*)$/.exec(text);
  const own = both ? both[1] : text;
  const focalText = focalTyped.trim() || (both ? both[2] : "");
  const a = measured(own);
  let aperture = NaN;
  if (a) {
    const unit = a.unit || (a.n < INCHES_BELOW ? "inch" : "mm");
    aperture = Math.round(a.n * MM[unit]);
    if (unit !== "mm") said.push(`${short(a.n)} ${unit}: ${aperture} mm.`);
  }
  const ratio = /^f\s*[/:]?\s*(\d*\.?\d+)$/.exec(plain(focalText));
  const f = measured(focalText);
  let focal = NaN;
  /** @param {number} n */
  const byRatio = (n) => {
    if (!(aperture > 0)) return;
    focal = Math.round(n * aperture);
    said.push(`f/${short(n)}: ${short(n)} times ${aperture} is ${focal} mm.`);
  };
  if (ratio) byRatio(Number(ratio[1]));
  else if (f && !f.unit && f.n <= RATIOS[1]) byRatio(f.n);
  else if (f) {
    const inches = f.n * MM.inch / aperture;
    const unit = f.unit || (f.n < aperture && inches >= RATIOS[0] && inches <= RATIOS[1] ? "inch" : "mm");
    focal = Math.round(f.n * MM[unit]);
    if (unit !== "mm" || !focalTyped.trim()) said.push(`Focal length${unit === "mm" ? "" : `, ${short(f.n)} ${unit}`}: ${focal} mm.`);
  }
  return { aperture, focal, said: said.join(" ") };
}
