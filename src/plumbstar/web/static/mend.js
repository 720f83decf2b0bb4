// Mend: what is wrong, and how is it put right? Why the fix is what it is, what many outings say of
// the mount, checks led step by step, and collimation from a photograph.

import { h } from "./dom.js";
import { get, say, store } from "./store.js";
import { answer, big, button, choiceRow, entry, fieldValue, redraw, typedNumber, ui } from "./parts.js";
import { table } from "./log.js";
import { chance, clock, signed, spaced } from "./words.js";

export const title = "Mend";
export const question = "What is wrong?";

const PARTS = [["why", "Tonight"], ["mount", "Many nights"], ["checks", "Checks"], ["photo", "Mirrors"]];
const data = {};
const askedFor = {};

async function ask(name) {
  if (askedFor[name] === store.state.version) return;
  askedFor[name] = store.state.version;
  try {
    data[name] = await get(`/data/${name}`);
  } catch (e) {
    data[name] = data[name] || { problem: e.message };
  }
  redraw();
}

export function view() {
  const part = ui.mend || "why";
  if (part !== "photo") ask(part);
  const d = data[part];
  return [
    choiceRow("mend", "Look at", PARTS, part, (v) => { ui.mend = v; redraw(); }),
    part === "photo" ? photo()
      : d === undefined ? h("p", { key: "wait" }, "Working it out…")
      : d.problem ? h("p", { key: "problem", class: "answer" }, d.problem)
      : part === "why" ? why(d)
      : part === "checks" ? checks(d)
      : h("div", { key: "mount" }, anything(d, 0)),
  ];
}

function why(d) {
  const list = d.explanations || [];
  const { sentence, explanations, ...rest } = d;
  return h("div", { key: "why" },
    sentence ? answer(sentence) : null,
    list.length ? h("ol", { class: "lines why" }, list.map((x) =>
      h("li", { key: x.name || x.sentence },
        h("span", { class: "odds" }, chance(x.probability)),
        h("strong", {}, x.sentence || x.label || spaced(x.name)),
        x.check ? h("p", {}, h("em", {}, "To make sure: "), plain(x.check)) : null,
        x.mend ? h("p", {}, h("em", {}, "To mend it: "), plain(x.mend)) : null))) : null,
    anything(rest, 1));
}

const plain = (v) => (typeof v === "string" ? v : v.sentence || v.text || JSON.stringify(v));

// ---- checks led step by step

const results = new Map();

function checks(d) {
  const list = d.checks || [];
  const open = list.find((c) => c.id === ui.check);
  return h("div", { key: "checks" },
    answer(d.sentence || "Each check takes a few minutes and settles one thing."),
    h("ul", { class: "lines" }, list.map((c) => h("li", { key: c.id },
      button(h("span", {}, h("strong", {}, c.title || spaced(c.id)), h("small", {}, c.why || c.purpose || c.sentence || "")),
        () => { ui.check = ui.check === c.id ? "" : c.id; redraw(); }, { class: "line", "aria-expanded": c === open ? "true" : "false" }),
      c === open ? check(c) : null))));
}

function check(c) {
  const steps = c.steps || c.instructions || [];
  const result = results.get(c.id);
  return h("div", { key: "open" },
    steps.length ? h("ol", { class: "steps" }, steps.map((s) => h("li", {}, typeof s === "string" ? s : s.text || s.sentence))) : null,
    (c.inputs || []).map((i) => i.choices
      ? choiceRow(`c-${i.name}`, i.label || spaced(i.name), i.choices.map((x) => (Array.isArray(x) ? x : [x, spaced(x)])), (ui.picked || {})[`${c.id}.${i.name}`] ?? i.default,
          (v) => { ui.picked = { ...ui.picked, [`${c.id}.${i.name}`]: v }; redraw(); })
      : i.kind === "numbers" || i.kind === "list" || i.kind === "text"
        ? entry(`in-${c.id}-${i.name}`, withUnit(i), {}, "plain")
        : entry(`in-${c.id}-${i.name}`, withUnit(i), {}, "number")),
    big("What does it say?", () => run(c), { key: "run" }),
    result ? h("div", { key: "result", role: "status" }, anything(result, 0)) : null);
}

const withUnit = (i) => (i.unit ? `${i.label || spaced(i.name)}, ${i.unit}` : i.label || spaced(i.name));

async function run(c) {
  const inputs = {};
  for (const i of c.inputs || []) {
    const id = `in-${c.id}-${i.name}`;
    if (i.choices) inputs[i.name] = (ui.picked || {})[`${c.id}.${i.name}`] ?? i.default ?? null;
    else if (i.kind === "text") inputs[i.name] = fieldValue(id);
    else if (i.kind === "numbers" || i.kind === "list") inputs[i.name] = fieldValue(id).split(/[\s;]+/).filter(Boolean).map((t) => Number(t.replace(",", ".")));
    else if (fieldValue(id) === "") continue;
    else {
      const value = typedNumber(id);
      if (!Number.isFinite(value)) return say(`${i.label || spaced(i.name)} must be a number.`, true);
      inputs[i.name] = value;
    }
  }
  try {
    const reply = await fetch("/do/check", {
      method: "POST", headers: { "Content-Type": "application/json", "X-Plumbstar": "1" },
      body: JSON.stringify({ id: c.id, inputs }),
    });
    const said = await reply.json();
    if (!reply.ok) return say([said.error, said.remedy].filter(Boolean).join(" "), true);
    const { ok, version, ...rest } = said;
    results.set(c.id, rest.result ?? rest);
    say("");
  } catch {
    say("No answer from the telescope’s computer.", true);
  }
}

// ---- collimation from a photograph

const LONGEST_SIDE = 1600; // a phone's full picture is ten times what the measurement needs
let picture = { busy: false, result: null };

function photo() {
  const r = picture.result;
  return h("div", { key: "photo" },
    h("p", { class: "answer" }, "A photograph of a star out of focus shows how the mirrors stand."),
    h("ol", { class: "steps" },
      h("li", {}, "Centre a bright star with a short eyepiece."),
      h("li", {}, "Turn the focuser until the star is a broad ring with a dark middle."),
      h("li", {}, "Hold the phone to the eyepiece and take a picture, or use a camera.")),
    h("p", { class: "note" }, "The phone’s own picture chooser may be bright."),
    h("label", { class: picture.busy ? "next file busy" : "next file", key: "file" },
      picture.busy ? "Measuring…" : "Choose a picture",
      h("input", { type: "file", accept: "image/*", onchange: (e) => e.target.files[0] && send(e.target) })),
    r ? h("div", { key: "result", role: "status" },
      r.overlay ? h("img", { class: "photo", src: r.overlay, alt: "The picture with the outer ring and the inner shadow drawn in" }) : null,
      anything({ ...r, overlay: undefined }, 0)) : null);
}

async function send(input) {
  picture = { busy: true, result: null };
  redraw();
  try {
    const small = await shrink(input.files[0]);
    const reply = await fetch("/data/collimate", {
      method: "POST", headers: { "X-Plumbstar": "1", "Content-Type": small.type || "application/octet-stream" }, body: small,
    });
    const said = await reply.json();
    if (!reply.ok) say([said.error, said.remedy].filter(Boolean).join(" "), true);
    else {
      say("");
      picture.result = said;
    }
  } catch {
    say("The picture could not be sent. Is it a photograph, and is the link up?", true);
  }
  picture.busy = false;
  input.value = "";
  redraw();
}

/** Made smaller on the phone: a night's Wi-Fi is slow. If the phone cannot read it, sent as it is. */
async function shrink(file) {
  let image;
  try {
    image = await createImageBitmap(file);
  } catch {
    return file;
  }
  const k = Math.min(1, LONGEST_SIDE / Math.max(image.width, image.height));
  if (k === 1 && file.size < 1e6) return file;
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(image.width * k);
  canvas.height = Math.round(image.height * k);
  canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob((blob) => done(blob || file), "image/jpeg", 0.92));
}

// ---- anything the server tells, in a plain order: sentences, then names with values

const FIRST = ["sentence", "summary", "headline", "text"];
const HIDE = new Set(["id", "ok", "version", "name", "label", "title"]);

export function value(name, v) {
  if (v === null || v === undefined) return "not known";
  if (typeof v === "boolean") return v ? "yes" : "no";
  if (typeof v === "string") return /^\d{4}-\d\d-\d\dT/.test(v) ? `${v.slice(0, 10)}, ${clock(v)} UTC` : v;
  if (typeof v !== "number") return JSON.stringify(v);
  const unit = /_(deg|arcmin|arcsec|mm|um|percent|px|s|minutes|hours|ticks)$/.exec(name);
  if (/(chance|probability)$/.test(name)) return chance(v);
  if (!unit) return Number.isInteger(v) ? String(v) : v.toPrecision(3).replace("-", "−");
  const marks = { deg: "°", arcmin: "′", arcsec: "″", mm: " mm", um: " µm", percent: " %", px: " px", s: " s", minutes: " min", hours: " h", ticks: " ticks" };
  return unit[1] === "deg" && /value|offset|mean|zero/.test(name) ? signed(v) : `${Number(v.toFixed(2))}${marks[unit[1]]}`.replace("-", "−");
}

const label = (name) => {
  const text = spaced(name).replace(/ (deg|arcmin|arcsec|mm|um|percent|px|s)$/, "").trim();
  return text.charAt(0).toUpperCase() + text.slice(1);
};
const simple = (v) => v === null || typeof v !== "object";

export function anything(v, depth) {
  if (v === null || v === undefined || v === "") return null;
  if (simple(v)) return h("p", {}, value("", v));
  if (Array.isArray(v)) {
    if (!v.length) return null;
    if (v.every((x) => typeof x === "string")) return h("ul", { class: "cautions" }, v.map((x) => h("li", {}, x)));
    if (v.every(simple)) return h("p", {}, v.map((x) => value("", x)).join(", "));
    return h("ul", { class: "lines" }, v.map((x) => h("li", {}, anything(x, depth + 1))));
  }
  const first = FIRST.find((k) => typeof v[k] === "string" && v[k]);
  const named = v.title || v.label || (v.name && spaced(v.name));
  const rest = Object.entries(v).filter(([k, x]) => k !== first && !(HIDE.has(k)) && x !== undefined && x !== null && x !== "");
  const facts = rest.filter(([, x]) => simple(x));
  const deep = rest.filter(([, x]) => !simple(x));
  const shown = facts.filter(([k]) => !(k === "sigma_deg" && "value_deg" in v));
  return h("div", {},
    named ? h("strong", {}, label(named)) : null,
    first ? (depth === 0 ? answer(v[first]) : h("p", {}, v[first])) : null,
    shown.length ? h("dl", { class: "pairs" }, shown.map(([k, x]) => [
      h("dt", {}, label(k)),
      h("dd", {}, k === "value_deg" && typeof v.sigma_deg === "number" ? `${signed(x)} ± ${v.sigma_deg.toFixed(2)}°` : value(k, x))])) : null,
    deep.map(([k, x]) => {
      if (Array.isArray(x) && !x.length) return null;
      return h("section", { key: k }, h(depth ? "h3" : "h2", {}, label(k)), anything(x, depth + 1));
    }));
}

export { table };
export function live() {}
