// Mend: what is wrong, and how is it put right? Why the fix is what it is, what many outings say of
// the mount, checks led step by step, and collimation from a photograph.

import { element, h } from "./dom.js";
import { get, say, store, told } from "./store.js";
import { answer, big, button, choiceRow, entry, fieldValue, redraw, section, toggle, typedNumber, ui } from "./parts.js";
import { capital, chance, plural, signed, spaced } from "./words.js";

export const title = "Mend";
export const question = "What is wrong?";

const PARTS = [["why", "Tonight"], ["mount", "Many nights"], ["checks", "Checks"], ["photo", "Mirrors"]];
const data = {};
const askedFor = {};

/** What the answers hang on: the sightings, not the passing of time. */
const wanted = (state) => JSON.stringify([state.outing?.id, state.sightings.map((s) => [s.id, s.set_aside]), state.kit?.eyepiece]);

async function ask(name) {
  const want = wanted(store.state);
  if (askedFor[name] === want) return;
  askedFor[name] = want;
  try {
    data[name] = await get(`/data/${name}`);
  } catch (e) {
    askedFor[name] = "";
    data[name] = data[name] || { problem: e.message || "No answer from the telescope’s computer." };
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
      : mount(d),
  ];
}

function why(d) {
  const list = d.explanations || [];
  const { sentence, explanations, ...rest } = d;
  const likely = list.filter((x, i) => i === 0 || x.probability >= LIKELY);
  const rest_of = list.slice(likely.length);
  return h("div", { key: "why" },
    sentence ? answer(sentence) : null,
    list.length ? h("ol", { class: "lines why" }, likely.map(cause)) : null,
    rest_of.length ? section("unlikely", "Less likely causes", String(rest_of.length), h("ol", { class: "lines why" }, rest_of.map(cause))) : null,
    anything(rest, 1));
}

/** The first is always shown; a cause less likely than this stands folded away. */
const LIKELY = 0.1;

function cause(x) {
  return h("li", { key: x.name || x.sentence },
    h("span", { class: "odds" }, chance(x.probability)),
    h("strong", {}, x.sentence || x.label || spaced(x.name)),
    x.evidence ? h("p", {}, plain(x.evidence)) : null,
    x.check ? h("p", {}, h("em", {}, "To make sure: "), plain(x.check)) : null,
    x.mend ? h("p", {}, h("em", {}, "To mend it: "), plain(x.mend)) : null);
}

const plain = (v) => (typeof v === "string" ? v : v.sentence || v.text || JSON.stringify(v));

// ---- many nights

function mount(d) {
  const { terms, jobs, hit_chances, ...rest } = d;
  return h("div", { key: "mount" },
    d.sentence ? answer(d.sentence) : null,
    (jobs || []).length ? h("section", { key: "jobs" }, h("h2", {}, "What to mend first"),
      h("ol", { class: "lines" }, jobs.map((j) => h("li", { key: j.sentence },
        h("p", {}, plain(j)),
        j.gain_in_hit_chance > 0.005 ? h("p", {}, `${GAINED[j.gained] || ""} it would bring ${plural(Math.round(100 * j.gain_in_hit_chance), "more target")} in 100 into the field.`) : null,
        j.gained !== "two" && j.gain_two_stars < 0.01 ? h("p", {}, "After two stars it changes nothing: the fix allows for it.") : null)))) : null,
    anything({ ...rest, sentence: undefined, outings: undefined }, 0),
    (terms || []).length ? h("section", { key: "terms" }, h("h2", {}, "Night by night"),
      h("p", { class: "note" }, "Each dot is an outing, the oldest on the left; its line is how far to trust it. The long line is what is believed now."),
      h("ul", { class: "terms" }, terms.map(term))) : null);
}

/** For whom a job is worth most: the gain is not the same after one star as after two. */
const GAINED = { one: "After one star,", two: "After two stars,", trusting: "With the stop taken as true and the mount as perfect," };

const TRUST = { trusted: "known well enough to start the next night with", partly: "known in part", open: "not known yet" };

function term(t) {
  const unit = "now_percent" in t ? "percent" : "deg";
  const now = t[`now_${unit}`];
  const spread = t[`give_or_take_${unit}`];
  const mark = unit === "percent" ? " %" : "°";
  const points = t.points || [];
  return h("li", { key: t.label },
    h("p", { class: "term" }, h("strong", {}, t.label), h("span", { class: "value" }, now === null || now === undefined ? "not known" : `${signed(now).replace("°", mark)} ± ${spread.toFixed(2)}${mark}`)),
    points.length ? h("div", { class: "nights-box", raw: true, key: JSON.stringify(points), ref: (el) => el.append(nights(points, now, t.label)) }) : null,
    t.trust ? h("small", {}, TRUST[t.trust] || plain(t.trust)) : null);
}

function nights(points, now, name) {
  const low = Math.min(now ?? 0, ...points.map((p) => p[1] - p[2]));
  const high = Math.max(now ?? 0, ...points.map((p) => p[1] + p[2]));
  const y = (v) => (8 + (64 * (high - v)) / (high - low || 1)).toFixed(1);
  const x = (i) => (12 + (276 * (i + 0.5)) / points.length).toFixed(1);
  const svg = element("svg", { class: "nights", viewBox: "0 0 300 80", role: "img",
    "aria-label": `${name}: ${points.map((p) => `outing ${p[0]}, ${p[1].toFixed(2)}`).join("; ")}` });
  if (now !== null && now !== undefined) svg.append(element("line", { class: "now", x1: 0, x2: 300, y1: y(now), y2: y(now) }));
  points.forEach((p, i) => {
    svg.append(
      element("line", { x1: x(i), x2: x(i), y1: y(p[1] - p[2]), y2: y(p[1] + p[2]) }),
      element("circle", { cx: x(i), cy: y(p[1]), r: 4.5 }));
  });
  return svg;
}

// ---- checks led step by step

const results = new Map();

function checks(d) {
  const list = d.checks || [];
  const open = list.find((c) => c.id === ui.check);
  return h("div", { key: "checks" },
    h("p", { class: "answer" }, "Each check settles one thing."),
    d.sentence ? h("p", { class: "warning" }, d.sentence) : null,
    h("ul", { class: "lines" }, list.map((c) => h("li", { key: c.id },
      button(h("span", {}, h("strong", {}, c.title), h("small", {}, c.why || "")),
        () => { ui.check = ui.check === c.id ? "" : c.id; redraw(); }, { class: "line", "aria-expanded": c === open ? "true" : "false" }),
      c === open ? check(c) : null))));
}

const chosen = (c, i) => (ui.picked || {})[`${c.id}.${i.name}`] ?? i.default;

function check(c) {
  const result = results.get(c.id);
  return h("div", { key: "open" },
    c.warning ? h("p", { class: "warning" }, c.warning) : null,
    (c.needs || []).length ? h("p", {}, `You need: ${c.needs.join(", ")}.`) : null,
    (c.steps || []).length ? h("ol", { class: "steps" }, c.steps.map((s) => h("li", {}, s))) : null,
    (c.inputs || []).map((i) => i.choices
      ? choiceRow(`c-${i.name}`, capital(i.label), i.choices.map((x) => [x, spaced(x)]), chosen(c, i),
          (v) => { ui.picked = { ...ui.picked, [`${c.id}.${i.name}`]: v }; redraw(); })
      : entry(`in-${c.id}-${i.name}`, withUnit(i), { value: i.default ?? "" }, i.kind === "number" ? "number" : "plain")),
    big("What does it say?", () => run(c), { key: "run" }),
    result ? h("div", { key: "result", role: "status" },
      answer(result.sentence),
      result.mend ? h("p", {}, h("em", {}, "To mend it: "), result.mend) : null,
      anything(result.numbers || [], 1)) : null);
}

const UNITS = { deg: "degrees", arcmin: "minutes of arc", mm: "mm", min: "minutes", s: "seconds" };
const withUnit = (i) =>
  capital(i.kind !== "text" && i.unit ? `${i.label}, ${UNITS[i.unit] || i.unit}` : i.label) + (i.kind === "numbers" ? ", one after another with spaces between" : "");

async function run(c) {
  const inputs = {};
  for (const i of c.inputs || []) {
    const id = `in-${c.id}-${i.name}`;
    if (i.choices) inputs[i.name] = chosen(c, i) ?? null;
    else if (fieldValue(id) === "") continue;
    else if (i.kind === "text") inputs[i.name] = fieldValue(id);
    else if (i.kind === "numbers") inputs[i.name] = fieldValue(id).split(/[\s;]+/).filter(Boolean).map((t) => Number(t.replace(",", ".")));
    else {
      const value = typedNumber(id);
      if (!Number.isFinite(value)) return say(`${capital(i.label)}: that must be a number.`, true);
      inputs[i.name] = value;
    }
  }
  try {
    const reply = await fetch("/do/check", {
      method: "POST", headers: { "Content-Type": "application/json", "X-Plumbstar": "1" },
      body: JSON.stringify({ id: c.id, inputs }),
    });
    const said = await reply.json();
    if (!reply.ok) return say(told(said), true);
    results.set(c.id, said.result);
    say("");
  } catch {
    say("No answer from the telescope’s computer.", true);
  }
}

// ---- collimation from a photograph

const LONGEST_SIDE = 1600; // a phone's full picture is ten times what the measurement needs
const first = "first";
const second = "second";
let picture = { busy: "", result: null, kept: null }; // kept: the first picture, for a pair

function photo() {
  const r = picture.result;
  return h("div", { key: "photo" },
    h("p", { class: "answer" }, "A photograph of a star out of focus shows how the mirrors stand."),
    h("ol", { class: "steps" },
      h("li", {}, "Centre a bright star with a short eyepiece."),
      h("li", {}, "Rack the focuser out until the star is a broad ring with a dark middle."),
      h("li", {}, "Hold the phone to the eyepiece and take a picture, or use a camera.")),
    h("p", { class: "note" }, "The phone’s own picture chooser may be bright."),
    section("photo", "If you know more", "",
      entry("photo-ratio", "Focal ratio, if not the kit’s", {}, "number"),
      entry("photo-defocus", "How far the focuser was moved, mm", {}, "number"),
      entry("photo-up", "Where the tube’s top is in the picture, as on a clock", { value: "12" }, "number"),
      toggle("The picture is mirrored", Boolean(ui.mirrored), (on) => { ui.mirrored = on; redraw(); }, "as through a star diagonal")),
    chooser(first, r ? "Choose another picture" : "Choose a picture", r ? "next second" : "next"),
    r ? h("div", { key: "result", role: "status" },
      r.overlay ? h("div", { class: "photo-box" }, h("img", { class: "photo", src: r.overlay, alt: "The picture with the outer ring and the inner shadow drawn in" })) : null,
      answer(r.sentence),
      r.seen ? h("p", { class: "big-words" }, `As you stand at the eyepiece: toward ${r.seen}.`) : null,
      r.turn ? h("p", { class: "big-words" }, r.turn) : null,
      anything(r.caveats || [], 1),
      r.can_judge ? h("p", {}, `The shadow is off by ${r.offset_percent.toFixed(1)} ± ${r.offset_sigma_percent.toFixed(1)} parts in 100 of the ring’s radius; it is ${r.obstruction_percent.toFixed(0)} parts in 100 as wide as the ring.`) : null,
      r.can_judge && r.sides === 1 && picture.kept
        ? h("section", { key: "pair" },
            h("h2", {}, "From the other side of focus"),
            h("p", {}, "Rack the focuser in through focus, as far beyond it as it was out. The star in the middle, the same zoom, the phone held the same way. Both pictures together tell coma from all else that moves the shadow."),
            chooser(second, "Add the second picture", "next"))
        : null) : null);
}

const chooser = (which, words, cls) =>
  h("label", { class: picture.busy === which ? `${cls} file busy` : `${cls} file`, key: which },
    picture.busy === which ? "Measuring…" : words,
    h("input", { type: "file", accept: "image/*", onchange: (e) => e.target.files[0] && send(e.target, which) }));

async function send(input, which) {
  picture = which === first ? { busy: first, result: null, kept: null } : { ...picture, busy: second };
  redraw();
  try {
    const small = await shrink(input.files[0]);
    const asked = new URLSearchParams();
    for (const [name, id] of [["focal_ratio", "photo-ratio"], ["defocus_mm", "photo-defocus"], ["up_clock", "photo-up"]]) {
      if (fieldValue(id)) asked.set(name, fieldValue(id));
    }
    if (ui.mirrored) asked.set("mirrored", "1");
    if (which === second) asked.set("first", picture.kept.size);
    const body = which === second ? new Blob([picture.kept, small]) : small;
    const reply = await fetch(`/data/collimate?${asked}`, {
      method: "POST", headers: { "X-Plumbstar": "1", "Content-Type": body.type || "application/octet-stream" }, body,
    });
    const said = await reply.json();
    if (!reply.ok) say(told(said), true);
    else {
      say("");
      picture.result = said;
      if (which === first) picture.kept = small;
    }
  } catch {
    say("The picture could not be sent. Is it a photograph, and is the link up?", true);
  }
  picture.busy = "";
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

function value(name, v) {
  if (v === null || v === undefined) return "not known";
  if (typeof v === "boolean") return v ? "yes" : "no";
  if (typeof v === "string") return v;
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

export function live() {}
