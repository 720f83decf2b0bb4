// The telescope, one question a screen: nobody has to write a file.

import { h } from "./dom.js";
import { act, get, say, whyNot } from "./store.js";
import { answer, big, button, choiceRow, entry, go, numberIn, redraw, toggle, ui } from "./parts.js";
import { tube } from "./lengths.js";
import { anotherPiece, pieceList, sentPieces, takeTyped, typedPieces } from "./pieces.js";

/** @type {TelescopeForm | null} */
let form = null; // the answers so far; null while nobody is asked

export const asking = () => form !== null;

/** Counts are taken to be so many until somebody has turned the telescope once round. */
const SUPPOSED = "10000";

export async function begin() {
  let k;
  try {
    k = await get("/data/telescope");
  } catch (e) {
    return say(whyNot(e), true);
  }
  const first = !k.reads; // nobody has described one: no number is anybody's
  form = {
    step: 0, reads: "", name: k.name,
    aperture: first ? "" : String(k.aperture_mm), focal: first ? "" : String(k.focal_length_mm), pieces: typedPieces(k.eyepieces),
    azTicks: k.azimuth.ticks_count ? String(k.azimuth.ticks_count) : "", altTicks: k.altitude.ticks_count ? String(k.altitude.ticks_count) : "",
    azReversed: k.azimuth.reversed, altReversed: k.altitude.reversed, azFine: String(k.azimuth.read_to_deg), altFine: String(k.altitude.read_to_deg),
    device: k.device, baud: String(k.baud_count), host: k.host, port: k.port ? String(k.port) : "", asked: k.asked, pushed: k.pushed || !k.asked,
    zero: /** @type {any} */ (k.zero), ports: k.ports,
    filters: [...k.filters], finder: k.finder_field_deg ? k.finder_view : "none", finderField: k.finder_field_deg ? String(k.finder_field_deg) : "",
  };
  turn();
}

function turn() {
  ui.padFor = "";
  say("");
  redraw();
  scrollTo(0, 0);
}

function leave() {
  form = null;
  turn();
}

/** @typedef {{ ask: string; parts: (f: TelescopeForm) => Kids; wrong?: (f: TelescopeForm) => string | false; first?: boolean }} Step */

/**
 * @param {TelescopeForm} f
 * @param {"name" | "azTicks" | "altTicks" | "device" | "host" | "port" | "asked" | "finderField"} key
 * @param {Kids} label
 * @param {string} kind
 */
const typed = (f, key, label, kind) => entry(`kit-${key}`, label, { value: f[key], oninput: (e) => { f[key] = e.target.value; } }, kind);

/** @param {string} text */
const above0 = (text) => numberIn(text) > 0;

/** @type {[TelescopeForm["reads"] | "controller", string, string][]} */
const WAYS = [
  ["typed", "On degree circles, by eye", "or a circle and an angle gauge"],
  ["serial", "Encoders, by a cable to this computer", "the one that shows these pages"],
  ["tcp", "Encoders, by the network", "a board with an address of its own"],
  ["controller", "A closed controller", "it shows numbers and gives none out"],
];

/** @type {Step} */
const HOW = {
  ask: "How do you see how far it has turned?", first: true,
  parts: (f) => h("ul", { class: "lines", key: "ways" }, WAYS.map(([way, what, more]) => h("li", { key: way },
    button(h("span", {}, h("strong", {}, what), h("small", {}, more)), async () => {
      if (way === "controller") {
        if (!(await act("set_controller", { stars: [] }, "Now what you have, question by question."))) return;
        form = null;
        return go("sight");
      }
      f.reads = /** @type {TelescopeForm["reads"]} */ (way);
      f.step = 1;
      turn();
    }, { class: "line" })))),
};
/**
 * The two fields, and what is understood of them.
 * @param {{ aperture: string; focal: string }} f
 * @param {string} [of] which form's fields
 */
export const tubeFields = (f, of = "kit") => [
  entry(`${of}-aperture`, "Aperture, mm or inches", { value: f.aperture, oninput: (e) => { f.aperture = e.target.value; redraw(); } }, "length"),
  entry(`${of}-focal`, "Focal length, mm, or as f/6", { value: f.focal, oninput: (e) => { f.focal = e.target.value; redraw(); } }, "length"),
  h("p", { class: "note", key: "how" }, tube(f.aperture, f.focal).said || "Both stand on the tube or in its papers, as 200 and 1200, “8 inch” and “f/6”."),
];

/** Both in mm from here on; what is wrong, if they are not understood. @param {{ aperture: string; focal: string }} f */
export function takeTube(f) {
  const { aperture, focal } = tube(f.aperture, f.focal);
  if (!(aperture > 0)) return `The aperture is not understood${f.aperture.trim() ? `: “${f.aperture.trim()}”` : ""}. Write it as 200, or “8 inch”.`;
  if (!(focal > 0)) return `The focal length is not understood${f.focal.trim() ? `: “${f.focal.trim()}”` : ""}. Write it as 1200, or “f/6”.`;
  [f.aperture, f.focal] = [String(aperture), String(focal)];
  return false;
}

/** @type {Step} */
const TUBE = {
  ask: "How large is the telescope?",
  parts: tubeFields,
  wrong: takeTube,
};
/** @type {Step} */
const PIECES = {
  ask: "Which eyepieces do you have?",
  parts: (f) => [pieceList(f), anotherPiece(f)],
  wrong: (f) => !takeTyped(f) ? " " : !f.pieces.length && "One eyepiece at least: the chances are those of its field.",
};
/** @type {[string, string, string][]} */
const FILTERS = [
  ["narrow band", "Narrow band", "for most nebulae"],
  ["line", "One line of oxygen", "for planetary nebulae and remnants"],
  ["broadband", "Broadband", "keeps out most lamps"],
];
/** @type {Step} */
const FILTERED = {
  ask: "Which filters do you screw in before the eyepiece?",
  parts: (f) => [
    FILTERS.map(([id, name, what]) => toggle(name, f.filters.includes(id), (on) => { f.filters = on ? [...f.filters, id] : f.filters.filter((x) => x !== id); redraw(); }, what)),
    h("p", { class: "note", key: "none" }, "None? Then go on. What you will see tonight is judged with those you have."),
  ],
};
/** @type {[string, string][]} */
const FINDERS = [["none", "No finder, or not now"], ["upright", "As by eye"], ["turned", "Upside down"], ["mirrored", "Left and right changed"]];
/** @type {Step} */
const FINDER = {
  ask: "How does your finder show the sky?",
  parts: (f) => [
    choiceRow("kit-finder", "Look at a house by day", FINDERS, f.finder, (v) => { f.finder = v; redraw(); }),
    f.finder === "none" ? null : typed(f, "finderField", "How much of the sky it shows across, degrees", "amount"),
    h("p", { class: "note", key: "how" }, "A sight or a red dot shows it as by eye; say how far you look about it, as 8. The pictures for the finder are then drawn as it shows them."),
  ],
  wrong: (f) => f.finder !== "none" && !(numberIn(f.finderField) >= 0.5 && numberIn(f.finderField) <= 40) && "Its field must be a number from 0.5 to 40, as 6; it stands in its papers.",
};
/** @type {Step} */
const RUNS = {
  ask: "Which way do the figures run?",
  parts: (f) => [
    choiceRow("kit-az", "As you turn the telescope to the right, they", [["no", "Grow"], ["yes", "Fall"]], f.azReversed ? "yes" : "no", (v) => { f.azReversed = v === "yes"; redraw(); }),
    choiceRow("kit-alt", "As you lift the tube, they", [["no", "Grow"], ["yes", "Fall"]], f.altReversed ? "yes" : "no", (v) => { f.altReversed = v === "yes"; redraw(); }),
    f.reads === "typed" ? null : h("p", { class: "note", key: "later" }, "If you cannot know yet, leave both at Grow: “Once round and back to the same mark” under Mend, Checks tells."),
  ],
};
/** @type {[string, string][]} */
const FINE_ROW = [["0.1", "0.1°"], ["0.25", "¼°"], ["0.5", "½°"], ["1", "1°"]];
/** @type {Step} */
const FINE = {
  ask: "How finely can you read them?",
  parts: (f) => [
    choiceRow("kit-az-fine", "The circle for turning round, to", FINE_ROW, f.azFine, (v) => { f.azFine = v; redraw(); }),
    choiceRow("kit-alt-fine", "The circle or gauge for the height, to", FINE_ROW, f.altFine, (v) => { f.altFine = v; redraw(); }),
  ],
};
/** @type {Step} */
const TICKS = {
  ask: "How many counts make one whole turn?",
  parts: (f) => [typed(f, "azTicks", "Turning round", "amount"), typed(f, "altTicks", "Lifting: a whole turn, though the tube makes a quarter", "amount"),
    button("I don’t know", () => { f.azTicks = f.altTicks = SUPPOSED; say(`Taken as ${SUPPOSED}. “Once round and back to the same mark” under Mend, Checks tells what they are.`); redraw(); }, { key: "unknown" })],
  wrong: (f) => ![f.azTicks, f.altTicks].every((t) => above0(t) && Number.isInteger(numberIn(t))) && "Both must be whole numbers, as 8192.",
};
/** @type {Step} */
const PORT = {
  ask: "Which plug is the cable in?",
  parts: (f) => [
    f.ports.length ? choiceRow("kit-ports", "Found on this computer", f.ports.map((p) => [p, p]), f.device, (v) => { f.device = v; redraw(); })
      : h("p", { key: "none" }, "No cable is seen on this computer just now."),
    typed(f, "device", "Its name, as /dev/ttyUSB0 or COM3", "plain"),
    choiceRow("kit-baud", "Its speed, from the board’s papers", ["9600", "19200", "38400", "57600", "115200"].map((b) => [b, b]), f.baud, (v) => { f.baud = v; redraw(); }),
    button("Look again", async () => { const k = await get("/data/telescope").catch(() => null); if (k) f.ports = k.ports; redraw(); }, { key: "look" }),
  ],
  wrong: (f) => !f.device.trim() && "The plug’s name is still empty.",
};
/** @type {Step} */
const ADDRESS = {
  ask: "Where is the board on the network?",
  parts: (f) => [typed(f, "host", "Its address, as 192.168.0.20", "plain"), typed(f, "port", "Its port, a number", "amount")],
  wrong: (f) => !(f.host.trim() && Number.isInteger(numberIn(f.port)) && above0(f.port)) && "Both are needed; they stand in the board’s papers.",
};
/** @type {Step} */
const ASKED = {
  ask: "Does the board send by itself?",
  parts: (f) => [
    choiceRow("kit-pushed", "Lines with two whole numbers", [["yes", "It sends them"], ["no", "It must be asked"]], f.pushed ? "yes" : "no", (v) => { f.pushed = v === "yes"; redraw(); }),
    f.pushed ? null : typed(f, "asked", "What to send it; \\r is Return, \\n a new line", "plain"),
    h("p", { class: "note", key: "how" }, "The board’s papers say so. If nothing comes with the one, come back and try the other."),
  ],
  wrong: (f) => !f.pushed && !f.asked && "What must it be sent? Often one letter, as Q.",
};
/** @type {Step} */
const ZERO = {
  ask: "Where do the counts begin?",
  parts: (f) => [choiceRow("kit-zero", "When the board is switched on", [["stop", "At zero, the tube on its upright stop"], ["kept", "Where they were before"], ["unknown", "I don’t know"]], f.zero, (v) => { f.zero = /** @type {any} */ (v); redraw(); }),
    h("p", { class: "note", key: "how" }, "Most begin at zero. Then always switch on with the tube on its stop. If you do not know, the pages ask on the first evening.")],
};
/** @type {Step} */
const NAME = {
  ask: "What do you call it?",
  parts: (f) => [typed(f, "name", "A name of your own", "text"), h("p", { class: "note", key: "how" }, "The log keeps the evenings of one name together, and learns from them.")],
  wrong: (f) => !f.name.trim() && "Any name will do, as “the large one”.",
};

/** @param {TelescopeForm} f */
function steps(f) {
  if (f.reads === "serial") return [HOW, TUBE, PIECES, FILTERED, FINDER, TICKS, PORT, ASKED, RUNS, ZERO, NAME];
  if (f.reads === "tcp") return [HOW, TUBE, PIECES, FILTERED, FINDER, TICKS, ADDRESS, ASKED, RUNS, ZERO, NAME];
  return [HOW, TUBE, PIECES, FILTERED, FINDER, RUNS, FINE, NAME];
}

/** @param {TelescopeForm} f */
async function save(f) {
  const axis = (/** @type {string} */ ticks, /** @type {boolean} */ reversed, /** @type {string} */ fine) => ({ ticks_count: f.reads === "typed" ? 0 : numberIn(ticks), reversed, read_to_deg: Number(fine) });
  const told = {
    name: f.name.trim(), aperture_mm: numberIn(f.aperture), focal_length_mm: numberIn(f.focal), eyepieces: sentPieces(f.pieces),
    reads: /** @type {any} */ (f.reads), azimuth: axis(f.azTicks, f.azReversed, f.azFine), altitude: axis(f.altTicks, f.altReversed, f.altFine),
    device: f.device, baud_count: Number(f.baud), host: f.host, port: numberIn(f.port) || 0, asked: f.asked, pushed: f.pushed, zero: f.zero,
    filters: f.filters, ...(f.finder === "none" ? { finder_field_deg: 0 } : { finder_view: f.finder, finder_field_deg: numberIn(f.finderField) }),
  };
  if (!(await act("describe_telescope", told))) return;
  leave();
  say(`${told.name} is kept. ${f.reads === "typed" ? "The pages ask for the two readings." : "The top line says whether its board answers."}`);
}

/** The present question. */
export function question() {
  if (!form) return null;
  const f = form;
  const all = steps(f), s = all[f.step];
  const last = f.step === all.length - 1;
  const next = () => {
    const wrong = s.wrong?.(f);
    if (wrong) return wrong.trim() ? say(wrong, true) : undefined;
    if (last) return save(f);
    f.step += 1;
    turn();
  };
  return h("div", { key: `telescope-${f.step}` },
    answer(s.ask),
    s.parts(f),
    s.first ? null : big(last ? "Keep this telescope" : "Next", next, { key: "next" }),
    h("div", { class: "row", key: "ways-on" },
      f.step ? button("Back", () => { f.step -= 1; turn(); }) : null,
      button("Leave it", leave)),
    s.first ? null : h("p", { class: "note", key: "count" }, `Question ${f.step + 1} of ${all.length}.`));
}
