// An object of the observer's own, by one question at a time (docs/objects.md).

import { h } from "./dom.js";
import { act, get, say } from "./store.js";
import { big, button, choiceRow, entry, redraw, ui } from "./parts.js";

/** @type {[string, string][]} */
const KINDS = [["", "Not sure"], ["open cluster", "Open cluster"], ["globular cluster", "Globular cluster"], ["nebula", "Nebula"], ["planetary nebula", "Planetary nebula"], ["galaxy", "Galaxy"]];

/** @typedef {Required<AskedOwnObject>} Draft */
/** @type {Draft | null} */
let draft = null; // the answers so far; null while nobody is asked
let step = 0;
/** @type {OwnObjectRecord[]} */
let listed = []; // what is on the list already

export const asking = () => draft !== null;

export function begin(name = "") {
  draft = { name, ra: "", dec: "", kind: "", mag: "", size: "" };
  step = 0;
  look();
  turn();
}

const look = () => get("/data/own").then((d) => { listed = d.objects; redraw(); }, () => {});

function turn() {
  ui.padFor = "";
  say("");
  scrollTo(0, 0);
}

function end() {
  draft = null;
  turn();
}

/**
 * 5 35 17 as 5:35:17; one bare number is in the unit that was asked for.
 * @param {string} typed
 * @param {string} unit
 */
const angle = (typed, unit) => {
  const text = typed.trim().replace(/[−–]/g, "-").replace(/,/g, ".");
  return /^[-+]?\d+(\.\d*)?$/.test(text) ? text + unit : text.split(/\s+/).join(":");
};

/**
 * @param {Draft} d
 * @param {"name" | "ra" | "dec" | "kind" | "mag" | "size"} key
 * @param {Kids} label
 * @param {string} kind
 */
const field = (d, key, label, kind) =>
  entry(`own-${key}`, label, { value: d[key], oninput: (e) => (d[key] = e.target.value) }, kind);

/** @type {{ ask: string; wants: (d: Draft) => unknown; parts: (d: Draft) => Kids }[]} */
const STEPS = [
  {
    ask: "What is it called?",
    wants: (d) => d.name.trim(),
    parts: (d) => field(d, "name", "Name", "text"),
  },
  {
    ask: "Where does it stand among the stars?",
    wants: (d) => d.ra.trim() && d.dec.trim(),
    parts: (d) => [
      field(d, "ra", "Right ascension: hours, minutes, seconds, as 5 35 17", "numbers"),
      field(d, "dec", "Declination: degrees and minutes, south with minus, as −5 23", "numbers"),
      h("p", { class: "note", key: "epoch" }, "Use the place for the year 2000, as most lists and charts give it."),
    ],
  },
  {
    ask: "What is it?",
    wants: () => true,
    parts: (d) => choiceRow("own-kind", "What you may see of it is judged by its kind", KINDS, d.kind, (v) => { d.kind = v; redraw(); }),
  },
  {
    ask: "How bright and how large, if you know?",
    wants: () => true,
    parts: (d) => [field(d, "mag", "Magnitude", "number"), field(d, "size", "Longest side, minutes of arc", "number")],
  },
];

function onTheList() {
  return h("section", { key: "listed" },
    h("h2", {}, "On your list already"),
    h("ul", { class: "lines" }, listed.map((o) => h("li", { key: o.name, class: "planned" },
      h("span", {}, h("strong", {}, o.name), h("small", {}, o.words)),
      button("Take out", async () => (await act("own_remove", { name: o.name }, `${o.name} is off your list.`)) && look(), { "aria-label": `Take out ${o.name}` })))));
}

/**
 * The present question; `done(name)` once the object is on the list.
 * @param {(name: string) => void} done
 */
export function question(done) {
  if (!draft) return null;
  const d = draft;
  const s = STEPS[step];
  const last = step === STEPS.length - 1;
  const next = async () => {
    if (!s.wants(d)) return say("That is still empty.", true);
    if (!last) {
      step += 1;
      return turn();
    }
    const name = d.name.trim();
    const point = (/** @type {string} */ text) => text.trim().replace(",", ".");
    const told = { ...d, name, ra: angle(d.ra, "h"), dec: angle(d.dec, "d"), mag: point(d.mag), size: point(d.size) };
    if (!(await act("own_add", told))) return;
    end();
    say(`${name} is on your list.`);
    done(name);
  };
  return h("div", { key: `own-${step}` },
    h("p", { class: "answer" }, s.ask),
    s.parts(d),
    big(last ? "Put it on my list" : "Next", next, { key: "next" }),
    h("div", { class: "row", key: "ways" },
      step ? button("Back", () => { step -= 1; turn(); }) : null,
      button("Leave it", end)),
    step || !listed.length ? null : onTheList());
}
