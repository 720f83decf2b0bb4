// Find: which way? Two scales until the target is in the field, then the field itself.

import { h } from "./dom.js";
import { act, record, store } from "./store.js";
import { big, button, eyepieceRow, keepUi, pressed, redraw, section, toggle, ui, undoButton, usable } from "./parts.js";
import { disc, scale, sweepPath } from "./scales.js";
import { guide, quiet } from "./sound.js";
import { agenda, nextAfter, refresh } from "./agenda.js";
import { stayLonger } from "./longer.js";
import { circlesShown } from "./circlesshown.js";
import { ask as askReadings, readingsForm, waiting } from "./circles.js";
import { eyepieceBlock } from "./eyepiece.js";
import { push as pushTo } from "./tonight.js";
import { doNext, nextBlock } from "./next.js";
import { howSeen, notSeen } from "./seen.js";
import { queue } from "./sight.js";
import { search } from "./lookup.js";
import { barred, refusal, unreachable } from "./refusals.js";
import { facts, fieldBack, typeNow, wanted } from "./targetparts.js";
import { sunPage } from "./sunquestion.js";
import { capital, degrees, shownAlt, shownAz, side, turn, way, whereInField, whole } from "./words.js";

export const title = "Find";
export const question = "Which way?";

const across = scale(false, 180, "Azimuth: what is left to push, left or right. The figures are read out beside it.");
const upright = scale(true, 90, "Altitude: what is left to push, up or down. The figures are read out beside it.");
const field = disc("The field of the eyepiece, up at the top; the target’s likely place is the soft patch.");

let inField = false; // with a little hold, so that the drawing does not flutter at the edge

/** @param {Picture} state */
export function view(state) {
  if (waiting()) return [queue(), readingsForm(state)];
  follow(state);
  const t = state.target;
  if (!t) {
    inField = false;
    return search(state);
  }
  if (state.sun_question) return sunPage(state.sun_question);
  if (t.refused) return refusal(state, t, t.refused);
  if (t.way_barred) return barred(state, t, t.way_barred);
  if (t.az_reading_deg === null) return unreachable(state, t);
  return push(state, t);
}

/**
 * @param {Picture} state
 * @param {TargetRecord} t
 */
function push(state, t) {
  const r = store.reading;
  const typed = state.kit?.connection === "typed" && !(r && r.state === "live");
  const sweep = t.sweep;
  const there = inField && !typed;
  // Until it is undone, the next thing to do is to look for another.
  const found = isFound(state, t);
  if (found || agenda().plan === undefined) refresh(); // what comes next is known when the next one is found
  // Something else comes before this push; after a find that is doubted, before the next one.
  const first = state.next.settles || Boolean(found && t.doubt && state.next.do === "sight");
  const next = found && !first ? nextAfter(ui.foundPress ?? "", t.name) : null;
  const held = isHeld(state, t); // then the way waits, folded away: one thing at a time
  if (!held) ui.open_held = false;
  return [
    queue(),
    h("div", { class: "target", key: "target" },
      h("p", { class: "target-name" }, t.label || t.name),
      h("p", { class: "target-chance" }, t.hit_chance === null
        ? "Whether it will be in the field cannot be told now."
        : sweep
          ? sweepWords(sweep)
          : `${capital(t.hit_chance_words)} to be in the ${state.kit.eyepiece} field`)),
    // Without a fix to go by, the push leads to the wrong place: another thing is to be done first.
    held ? h("div", { key: "before" }, nextBlock(state)) : null,
    [sweep || held ? "" : t.doubt, ...t.warnings].filter(Boolean).map((w) => h("p", { class: "warning", key: w }, w)),
    held
      ? section("held", "The way, all the same", "it may be wrong", wayThere(state, t, found, typed, there))
      : wayThere(state, t, found, typed, there),
    found ? null : circlesShown(state),
    h("p", { id: "push-state", class: "push-state", key: "state" }),
    // The object itself tells as much as a star does.
    held && state.next.do === "sight" ? h("p", { key: "or" }, "Is it in the eyepiece now? Then centre it and press: that will do, too.") : null,
    h("div", { class: "verdict", key: "verdict" },
      h("button", {
        type: "button", class: found || first ? "again" : "next", id: "here",
        ...pressed((at) => {
          const what = t.label || t.name;
          if (typed) return askReadings({ name: "here_centred", star: "", target: t.name, what, at });
          ui.foundFor = t.name;
          ui.foundPress = record("here_centred", {}, at, what, t.name);
        }),
      }, found ? "Centred again" : "Here, centred"),
      found || held || t.hit_chance === null ? null : button("Not in the field", async () => {
        inField = false;
        // By day the way to it may be barred, and after the last one there is none: the page says so.
        const more = !state.sun?.up && !(sweep && sweep.index + 1 >= sweep.stops_deg.length);
        await act("not_in_field", {}, more ? "Noted. Push to the next field of the path." : "Noted.");
      }, { class: "next second", id: "not-here" })),
    // Below the button just pressed: a second press of it means what the first one meant.
    found ? h("p", { class: "big-words", key: "found" }, leftOut(state, t)
      ? "It is in the log, but it contradicts the other sightings, and the fix leaves it out. Was it the right one, and in the middle?"
      : t.doubt || first ? "It is in the log." : "It is in the log, and the fix has learnt from it.") : null,
    found && t.story ? h("p", { class: "story", key: "story" }, t.story) : null,
    found ? howSeen(state, t, ui.foundPress ?? state.seen.looks.find((x) => x.target === t.name && x.seen !== "not")?.press ?? "") : null,
    found && first ? h("div", { key: "before" }, nextBlock(state)) : null,
    next ? big(`Push on to ${next.short}`, () => pushTo(next), { key: "onward" }) : null,
    next ? stayLonger(ui.foundPress ?? "") : null,
    found ? (next || first ? button : big)("Find another", another, { key: "another" }) : null,
    sweep ? fieldBack() : null,
    // In a search the doubt is known already: it must not push the way back out of the thumb's reach.
    sweep && t.doubt && !held ? h("p", { class: "warning", key: "doubt" }, t.doubt) : null,
    sweep && !held ? h("section", { class: "sweep-block", key: "sweep" },
      h("h2", {}, "The search path"),
      h("div", { class: "sweep-box", raw: true, key: `${t.name}${sweep.index}${sweep.stops_deg.length}`, ref: (el) => el.append(sweepPath(sweep, state.kit.field_deg)) }),
      h("p", {}, "Filled circles have been searched. The thick circle is the one to look at now.")) : null,
    held ? null : eyepieceBlock(t), // found as well: now what is seen is held against it
    found || first || state.next.do !== "sight" ? null : h("div", { key: "advice" },
      t.doubt ? null : h("p", {}, state.next.sentence), button(state.next.button, () => doNext(state))),
    h("div", { class: "row", key: "other" }, found ? undoButton(state) : button("Choose another", another)),
    found || held || typed || t.hit_chance === null ? null : notSeen(state, t),
    section("facts", "About it", t.seen_before ? "seen before" : "", h("p", {}, facts(t)),
      t.seen_before ? h("p", { class: "note" }, t.seen_before) : null,
      eyepieceRow(state)),
    section("guide", "Guiding by ear", ui.beep || ui.speech ? "on" : "off",
      toggle("Beeps", ui.beep, (on) => { ui.beep = on; keepUi(); redraw(); }, "faster and higher as you come nearer"),
      toggle("Spoken", ui.speech, (on) => { ui.speech = on; keepUi(); redraw(); }, "the way and the amount, every few seconds")),
  ];
}

/**
 * Whether something else comes before this push (a question, or a star that settles what may have
 * moved): whoever sees a way goes by it.
 * @param {Picture} state
 * @param {TargetRecord} t
 */
const isHeld = (state, t) => state.next.settles && !isFound(state, t);

/**
 * What is left to push, drawn; with typed readings what the circles should say.
 * @param {Picture} state
 * @param {TargetRecord} t
 */
function wayThere(state, t, /** @type {boolean} */ found, /** @type {boolean} */ typed, /** @type {boolean} */ there) {
  if (typed) return found ? null : typedPush(state, t);
  return h("div", { class: `push${there ? " arrived" : ""}${t.sweep ? " searching" : ""}`, key: "push" },
    h("div", { class: "across", raw: true, ref: (el) => el.append(across.node) }),
    h("div", { class: "down", raw: true, ref: (el) => el.append(upright.node) }),
    h("div", { class: "field-box", raw: true, ref: (el) => el.append(field.node) }),
    h("div", { class: "figures" },
      h("p", { class: "figure" }, h("span", { id: "az-left", class: "much" }, "–"), " ", h("span", { id: "az-side", class: "way" })),
      h("p", { class: "figure" }, h("span", { id: "alt-left", class: "much" }, "–"), " ", h("span", { id: "alt-way", class: "way" })),
      h("p", { id: "field-words", class: "field-words" })),
    found ? null : h("p", { id: "reads", class: "reads" }));
}

/** The target while this page looks on, and the last sighting before it was chosen: earlier finds are of another visit. */
const chosen = { name: /** @type {string | null} */ (null), after: -1 };

/**
 * Whoever chose it, on this phone or another.
 * @param {Picture} state
 */
function follow(state) {
  const name = state.target?.name ?? "";
  if (name === chosen.name) return;
  if (chosen.name !== null) chosen.after = state.sightings[state.sightings.length - 1]?.id ?? -1;
  chosen.name = name;
}

/**
 * The sighting that found it: that of the press made here, unless it was taken back since. A page
 * opened anew remembers no press: there the last sighting tells, as it does for the next step.
 * @param {Picture} state
 * @param {TargetRecord} t
 */
function foundBy(state, t) {
  const last = state.sightings[state.sightings.length - 1];
  const by = ui.foundFor === t.name
    ? state.sightings.find((s) => s.id === store.saved[ui.foundPress ?? ""])
    : ui.foundFor === undefined && last?.star === t.name ? last : undefined;
  return by && by.id > chosen.after ? by : undefined;
}

/**
 * @param {Picture} state
 * @param {TargetRecord} t
 */
const isFound = (state, t) => foundBy(state, t) !== undefined;

/**
 * @param {Picture} state
 * @param {TargetRecord} t
 */
const leftOut = (state, t) => Boolean(foundBy(state, t)?.set_aside);

/** @param {SweepRecord} s */
function sweepWords(s) {
  const found = s.found_by[s.index];
  if (s.index >= s.stops_deg.length) return "The search path is done. Check the finder, or sight a star near here.";
  return `Field ${s.index + 1} of ${s.stops_deg.length}${found ? `; ${s.found_by_words} that it is in the first ${s.index + 1}` : ""}`;
}

function another() {
  quiet();
  ui.foundFor = "";
  act("clear_target");
}

/**
 * Without encoders the circles are read by eye: then what they should say is the answer.
 * @param {Picture} state
 * @param {TargetRecord} t
 */
function typedPush(state, t) {
  const to = wanted(t);
  if (!to) return null;
  const r = store.reading;
  const known = r && r.az_reading_deg !== null && r.state === "typed";
  const p = known ? left(r, t) : null;
  return h("div", { key: "typed-push" },
    h("p", { class: "big-words" }, "Push until the circles read"),
    h("div", { class: "figures long" },
      h("p", { class: "figure" }, h("span", { class: "much", id: "to-az" }, `${shownAz(state, to.az_deg).toFixed(1)}°`), " ", h("span", { class: "way" }, "azimuth")),
      h("p", { class: "figure" }, h("span", { class: "much", id: "to-alt" }, `${shownAlt(state, to.alt_deg).toFixed(1)}°`.replace("-", "−")), " ", h("span", { class: "way" }, "altitude"))),
    p ? h("p", {}, `From the last readings you typed: ${degrees(Math.abs(p.az_deg), 1)} ${side(p.az_deg)}, ${degrees(Math.abs(p.alt_deg), 1)} ${way(p.alt_deg)}.`) : null,
    typeNow());
}

/**
 * Whether the reading was worked out for what is shown. The picture and the readings come apart: just
 * after another target or field was chosen the last reading still tells of the one before.
 * @param {ReadingRecord} r
 * @param {TargetRecord} t
 */
const ofThis = (r, t) => r.place === t.place;

/**
 * What is left to push, degrees; nothing while the way there may pass the Sun.
 * @param {ReadingRecord} r
 * @param {TargetRecord} t
 * @returns {PushAmounts | null}
 */
function left(r, t) {
  if (r.push && ofThis(r, t)) return r.push;
  if (r.sun_bars || (store.state?.sun?.up && !ofThis(r, t))) return null;
  const to = wanted(t);
  if (r.az_reading_deg === null || r.alt_reading_deg === null || !to) return null;
  return { az_deg: turn(to.az_deg - r.az_reading_deg), alt_deg: to.alt_deg - r.alt_reading_deg };
}

/**
 * How far the tube is from where it should look, degrees on the sky.
 * @param {ReadingRecord} r
 * @param {TargetRecord} t
 * @param {PushAmounts | null} p
 */
function apart(r, t, p) {
  if (t.sweep && p && r.alt_reading_deg !== null) return Math.hypot(p.az_deg * Math.cos((r.alt_reading_deg * Math.PI) / 180), p.alt_deg);
  return r.offset && !t.sweep && ofThis(r, t) ? Math.hypot(r.offset.right_deg, r.offset.up_deg) : Infinity;
}

/** @type {Record<string, HTMLElement | null>} */
let nodes = {};
/**
 * @param {string} id
 * @param {string} text
 */
const put = (id, text) => {
  let el = nodes[id];
  if (!el || !el.isConnected) el = nodes[id] = document.getElementById(id);
  if (el && el.textContent !== text) el.textContent = text;
};

/**
 * Runs for every reading: only words and transforms change.
 * @param {Picture} state
 */
export function live(state) {
  const t = state && state.target;
  const r = store.reading;
  if (!t || t.refused || !r) return quiet();
  const p = left(r, t);
  const ok = usable(r);
  const now = Boolean(p && ok && r.in_field && ofThis(r, t));
  if (now !== inField) {
    // Leave only when clearly outside: nine tenths in, eleven tenths out would flutter less still,
    // but the server's word is final beyond that.
    // Of a search what counts is its present field: the offset is the target's.
    const gone = apart(r, t, p) > 0.6 * state.kit.field_deg;
    if (now || gone || !ok || !p) {
      inField = now;
      redraw();
    }
  }
  across.set(p ? p.az_deg : null, !ok);
  upright.set(p ? p.alt_deg : null, !ok);
  if (p) {
    put("az-left", degrees(Math.abs(p.az_deg)));
    put("az-side", Math.abs(p.az_deg) < 0.005 ? "there" : side(p.az_deg));
    put("alt-left", degrees(Math.abs(p.alt_deg)));
    put("alt-way", Math.abs(p.alt_deg) < 0.005 ? "there" : way(p.alt_deg));
  }
  if (inField) {
    field.set(r.offset, t.patch, state.kit.field_deg);
    if (t.sweep) put("field-words", `Field ${t.sweep.index + 1}: look all over it.`);
    else if (isFound(state, t)) put("field-words", "Found.");
    else if (t.hit_chance === null) put("field-words", "Here by the fix, which does not hold now.");
    else if (r.offset) put("field-words", whereInField(r.offset, state.kit.field_deg));
  } else put("field-words", "");
  if (r.az_reading_deg !== null && r.alt_reading_deg !== null) {
    const to = p ? { az_deg: r.az_reading_deg + p.az_deg, alt_deg: r.alt_reading_deg + p.alt_deg } : wanted(t);
    if (to && !r.sun_bars) put("reads", `Circles read ${shownAz(state, r.az_reading_deg).toFixed(1)}° and ${shownAlt(state, r.alt_reading_deg).toFixed(1)}°; want ${shownAz(state, to.az_deg).toFixed(1)}° and ${shownAlt(state, to.alt_deg).toFixed(1)}°`.replace(/-/g, "−"));
  }
  document.querySelector(".push")?.classList.toggle("stale", !ok);
  put("push-state", ok ? "" : whole(r.problem) || "No reading comes from the circles: what is shown is old.");
  if (ok && p && (!isHeld(state, t) || ui.open_held)) guide(r, p, inField);
  else quiet();
}
