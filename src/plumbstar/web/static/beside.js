// Beside a closed controller: three timed taps, its number, the look back, then find by find.

import { h } from "./dom.js";
import { act, get, record, say } from "./store.js";
import { answer, big, button, choiceRow, entry, eyepieceRow, field, go, pressed, redraw, toggle, typedNumber, ui } from "./parts.js";
import { disc } from "./scales.js";
import { eyepieceBlock } from "./eyepiece.js";
import { queue } from "./sight.js";
import { capital } from "./words.js";

const drawn = disc("The field of the eyepiece at the controller’s zero, up at the top; the object’s likely place is the soft patch.");
/** @type {OfferedStar[] | null} */
let offered = null;
/** @type {Set<string> | null} */
let ticked = null;
let clock = "unknown";

/** @param {BesideRecord} b */
function kit(b) {
  if (!offered) get("/data/controller_stars").then((d) => { offered = d.stars; redraw(); }, () => {});
  const chosen = (ticked ??= new Set(b.kit.stars));
  return [
    answer("Which stars does your controller know?"),
    choiceRow("box-clock", "Has it a clock?", [["yes", "Yes"], ["no", "No"], ["unknown", "I don’t know"]], clock, (v) => { clock = v; redraw(); }),
    (offered ?? []).map((s) => toggle(s.name, chosen.has(s.name), (on) => { if (on) chosen.add(s.name); else chosen.delete(s.name); redraw(); }, s.constellation)),
    big(`Save these ${chosen.size} stars`, () => act("set_controller", { stars: [...chosen], clock: /** @type {any} */ (clock) }, "Saved."), { key: "next" }),
  ];
}

/** @param {BesideRecord} b */
function tap(b) {
  const at = { upright: "", first: b.stars[0] ?? "", second: b.stars[1] ?? "" }[b.step] ?? "";
  return [
    answer(at ? `Centre ${at}, and tap.` : "Tube to the stop, switch on, and tap."),
    h("p", { key: "slow" }, b.slow_hands),
    h("button", { type: "button", class: "eye", id: "tap", key: "tap", ...pressed((when) =>
      record("controller_entry", at ? { event: "star", star: at } : { event: "upright" }, when, at || "The stop")) },
      h("span", { class: "eye-word" }, at ? "Centred" : "On the stop"), h("span", { class: "eye-small" }, "tap at that very moment")),
  ];
}

/** @param {string} id @param {string} label */
const pad = (id, label) => entry(id, label, {}, "number");

/** @param {string} id */
const clear = (id) => { const f = field(id); if (f) f.value = ""; };

const now = () => ({ mono: performance.now(), origin: performance.timeOrigin, wall: Date.now() });

function number() {
  return [
    answer("Which number does it show now?"),
    pad("shown-number", "The number, with its sign"),
    big("Save the number", () => {
      const n = typedNumber("shown-number");
      if (!Number.isFinite(n)) return say("It must be a number, as −1.4.", true);
      ui.padFor = "";
      record("controller_entry", { event: "number", number_deg: n }, now(), "The number");
    }, { key: "next" }),
  ];
}

/** @param {string} star @param {string} next */
function left(star, next) {
  return h("div", { key: `left-${star}` },
    pad("left-az", "Still to push sideways: right is plus, left is minus"),
    pad("left-alt", "Still to push: up is plus, down is minus"),
    big(next, () => {
      const [az, alt] = [typedNumber("left-az"), typedNumber("left-alt")];
      if (!Number.isFinite(az) || !Number.isFinite(alt)) return say("Both must be numbers, as −0.4.", true);
      ui.padFor = "";
      clear("left-az");
      clear("left-alt");
      record("controller_entry", { event: "centred", star, left_az_deg: az, left_alt_deg: alt }, now(), star);
    }, { key: "next" }));
}

/** @param {BesideRecord} b */
const told = (b) => [
  b.answer ? h("p", { class: "big-words", key: "told" }, b.answer) : null,
  b.meaning ? h("p", { key: "meaning" }, b.meaning) : null,
  b.sharing_words ? h("p", { key: "sharing" }, b.sharing_words) : null,
  b.mistakes.map((m) => h("p", { class: "warning", key: m.sentence }, `${capital(m.probability_words)}: ${m.sentence}`)),
];

/** @param {BesideRecord} b */
const back = (b) => b.takes_back ? button(`Take back: ${b.takes_back}`, () => act("controller_back", {}), { class: "quiet", key: "back" }) : null;

/**
 * @param {Picture} state
 * @param {BesideRecord} b
 */
export function sight(state, b) {
  const last = b.stars[1] ?? "";
  const body = b.step === "kit" ? kit(b)
    : b.step === "pair" ? [answer("First choose two stars of its list."), big("Choose the stars", () => go("prepare"), { key: "next" })]
    : b.step === "number" ? number()
    : b.step === "look_back" ? [answer(`Look back: choose ${last} as the object. Do not move the tube.`), left(last, "Save what is left"), told(b)]
    : b.step === "find" ? [told(b), big("Find an object", () => go("find"), { key: "next" }),
        button("Start again from the stop", () => record("controller_entry", { event: "upright" }, now(), "The stop"), { key: "again" })]
    : tap(b);
  return [queue(), body, back(b), eyepieceRow(state)];
}

/**
 * Null leaves the screen to the search for objects, or to what refuses.
 * @param {Picture} state
 * @param {BesideRecord} b
 */
export function find(state, b) {
  const [t, p] = [state.target, b.push];
  if (!t || t.refused || state.sun_question) return null;
  if (!p) return [queue(), answer("First the two stars and the number."), big("Go on", () => go("sight"), { key: "next" }), button("Choose another", () => act("clear_target"), { key: "other" })];
  const s = p.sweep;
  const to = s ? { az: s.push_az_deg, alt: s.push_alt_deg } : { az: p.push_az_deg, alt: p.push_alt_deg };
  const part = (/** @type {number} */ d, /** @type {string} */ more, /** @type {string} */ less) => `${Math.abs(d).toFixed(1)}° ${d < 0 ? less : more}`;
  drawn.set({ right_deg: p.right_deg, up_deg: p.up_deg }, p.patch, state.kit.field_deg);
  const found = b.finds.some((f) => f.found && f.target === t.name);
  return [
    queue(),
    h("p", { class: "target-name", key: "name" }, t.label || t.name),
    h("p", { key: "zero" }, p.known ? "Choose it on the controller, and push until it shows zero." : `The controller does not know it: choose ${p.from_label}, and push until it shows zero.`),
    answer(p.words || s ? `Then push on ${part(to.az, "right", "left")} and ${part(to.alt, "up", "down")}.` : "There it should be."),
    h("p", { class: "big-words", key: "chance" }, s ? `Field ${s.index + 1} of ${s.stops_deg.length}` : `${capital(p.hit_chance_words)} to be in the ${state.kit.eyepiece} field${p.known ? `; ${p.hit_chance_at_zero_words} at zero` : ""}.`),
    h("div", { class: "around-box", raw: true, key: "disc", ref: (el) => el.append(drawn.node) }),
    found
      ? [h("p", { class: "big-words", key: "found" }, "Found: it is in the log, and the next push has learnt from it."), big("Find another", () => act("clear_target"), { key: "next" })]
      : [h("h2", { key: "here" }, "In the middle? What does it still want?"),
         p.known ? left(t.name, "Here, centred") : null,
         button("Not in the field", () => act("controller_not_here", {}, "Noted. Push to the next field."), { class: "next second", id: "not-here", key: "not" })],
    button("Choose another", () => act("clear_target"), { key: "other" }),
    back(b), eyepieceBlock(t),
  ];
}
