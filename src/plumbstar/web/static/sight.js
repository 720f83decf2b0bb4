// Sight: is it centred? One star, one tap, and the tap's own instant is what counts.

import { h } from "./dom.js";
import { circlesShown } from "./circlesshown.js";
import { ask, askAgain, exchange, otherWay, readingsForm, waiting } from "./circles.js";
import { act, discard, get, record, say, store, tryAgain } from "./store.js";
import { big, button, entry, eyepieceRow, field, go, pressed, readingText, redraw, section, ui, undoButton, usable } from "./parts.js";
import { nextBlock } from "./next.js";
import { rehearseButton } from "./rehearse.js";
import { starField } from "./scales.js";
import { wayBlock } from "./starway.js";
import { stopFold, stopQuestion } from "./stop.js";
import { brightness, capital, degrees, hour, round360, shownAlt, shownAz, side, turn, way, whole } from "./words.js";

export const title = "Sight";
export const question = "Is it centred?";

const ANY = "?"; // in place of a star's name: nobody knows it
const REST_MS = 2000; // no telescope reaches the next star sooner; a second tap is a slip of the thumb

/** Whether the button rests after a tap. What is taken back or thrown away ends the rest: the next tap is meant. */
const resting = () => performance.now() < (ui.restUntil ?? 0) && !store.outcome.bad; // refused: nothing is noted

/** @type {Map<string, AroundAnswer | null>} */
const fields = new Map(); // star -> /data/around

/**
 * The star to sight now, or null: the one picked here, else the next one. While a question waits the
 * star that it is about stays.
 * @param {Picture} state
 */
const current = (state) =>
  state.plan.find((p) => p.star === ui.star && !p.done)
  ?? state.plan.find((p) => p.star === ui.again)
  ?? state.plan.find((p) => p.star === state.aimed_star)
  ?? (state.next.do === "sight" ? state.plan.find((p) => p.star === state.next.star) : null)
  ?? (state.next.do === "answer" ? state.plan.find((p) => !p.done) : null)
  ?? null;

/** @param {Picture} state */
const asksForReadings = (state) => state.kit?.connection === "typed";

/** @param {Picture} state */
export function view(state) {
  /** @type {Kids[]} */
  const out = [queue()];
  if (waiting()) return [...out, readingsForm(state)];
  // What was picked here and is sighted is done with: after a knock the plan says what comes first.
  if (state.plan.some((p) => p.star === ui.star && p.done)) ui.star = "";
  // Whoever has named a star here need not be asked to begin: the first tap does that.
  if (!state.site) return [...out, nextBlock(state)];
  const picked = Boolean(ui.star) && current(state) !== null;
  if ((!state.outing || state.outing.ended_utc) && !nameless(state) && !picked) {
    return [
      ...out,
      h("p", { class: "answer", key: "answer" }, "No outing has begun."),
      state.plan.length
        ? big("Start the outing", () => act("start_outing", {}, "The outing has begun."), { key: "next" })
        : big("Choose the stars", () => go("prepare"), { key: "next" }),
      anyStar(state),
      state.site ? chooser(state, null, "A star that I know") : null,
    ];
  }
  if (nameless(state)) {
    out.push(stopQuestion(state), circlesShown(state), namelessBlock(state), undoButton(state), recorded(state), chooser(state, null), more(state));
    return out;
  }
  const star = current(state);
  out.push(stopQuestion(state), star ? circlesShown(state) : null, why(state, star), star ? starBlock(state, star) : [nextHere(state), anyStar(state)]);
  out.push(undoButton(state), recorded(state), chooser(state, star), stopFold(state), more(state));
  return out;
}

/**
 * Whether stars are sighted that nobody knows: so chosen here, until they have names.
 * @param {Picture} state
 */
function nameless(state) {
  if (state.nameless) ui.waited = true;
  else if (ui.waited) {
    ui.waited = false; // they have their names now
    if (ui.star === ANY) ui.star = "";
  }
  return ui.star === ANY || (Boolean(state.nameless) && !ui.star);
}

/** @param {Picture} state */
const anyStar = (state) => state.site && !(state.sun?.up && !state.sun.filter_confirmed)
  ? h("p", { key: "any-star" }, button("Any bright star, I don’t know which", () => { ui.star = ANY; ui.again = ""; act("aim_at", { star: ANY }); redraw(); scrollTo(0, 0); }))
  : null;

/** Where some were taken by mistake none may fit any more. @param {number} count */
async function forgetAll(count) {
  for (let k = 0; k < count; k += 1) if (!(await act("forget_nameless", {}))) return;
  say("All stars without a name are taken back.");
}

/** @param {Picture} state */
function namelessBlock(state) {
  const n = state.nameless;
  return [
    h("div", { class: "eyework", key: "sight" },
      h("div", { class: "sight-words" },
        h("p", { class: "star-name", key: "name" }, n ? "One more bright star" : "Any bright star"),
        h("p", { class: "big-words", key: "what" }, n ? n.next : "Take the brightest that you see, well up. Centre it, then tap. Two or three, far apart, and their names are found."),
        state.sun && state.sun.alt_deg > -5 ? h("p", { class: "warning", key: "sun" }, "Stay far away from where the Sun went down.") : null),
      eye(state, { star: ANY, what: "a bright star" })),
    !n && state.plan.length ? button("Back to the chosen stars", () => { ui.star = ""; const first = state.plan.find((p) => !p.done); if (first) act("aim_at", { star: first.star }); redraw(); scrollTo(0, 0); }, { key: "back" }) : null,
    n ? h("section", { key: "nameless" },
      h("h2", {}, n.sentence),
      n.names.length ? h("ul", { class: "cautions" }, n.names.map((name, i) => h("li", { key: `name${i}` }, name))) : null,
      n.question && n.pair.length ? h("div", { key: "brighter" },
        h("p", { class: "big-words" }, n.question),
        h("div", { class: "row" },
          button(n.called[0], () => act("brighter_said", { id: n.pair[0], other: n.pair[1], was: "brighter" })),
          button(n.called[1], () => act("brighter_said", { id: n.pair[0], other: n.pair[1], was: "fainter" })),
          button("Much alike", () => act("brighter_said", { id: n.pair[0], other: n.pair[1], was: "alike" })))) : null,
      n.question && !n.pair.length ? h("div", { key: "colour" },
        h("p", { class: "big-words" }, n.question),
        h("div", { class: "row" },
          button("Yes, deep orange", () => act("colour_said", { id: n.press, orange: true }), { key: "orange" }),
          button("No", () => act("colour_said", { id: n.press, orange: false }), { key: "white" }))) : null,
      h("div", { class: "row", key: "forget" },
        button("Take the last one back", () => act("forget_nameless", {}, "The last star without a name is taken back.")),
        n.count > 2 ? button("Begin anew with all of them", () => forgetAll(n.count)) : null)) : null,
  ];
}

/**
 * @param {Picture} state
 * @param {PlannedStar} star
 */
function starBlock(state, star) {
  const sun = state.sun;
  return [
    sun && sun.up && !sun.filter_confirmed
      ? h("p", { class: "warning", key: "sun" }, "The Sun is up. Know where it is before you move the tube, and never sweep toward it: one glance blinds for good.")
      : null,
    sun && sun.up && !sun.filter_confirmed ? rehearseButton(state, Boolean(star.near_sun)) : null,
    h("div", { class: "eyework", key: "sight" },
      h("div", { class: "sight-words" },
        h("p", { class: "star-name", key: "name" }, star.star),
        star.near_sun
          ? h("p", { class: "warning", key: "near-sun" }, star.near_sun)
          : star.az_deg === null || star.alt_deg === null
          ? h("p", { class: "big-words", key: "where" }, "Say where you stand first, in Prepare.")
          : [h("p", { class: "big-words", key: "where" }, capital(star.where)),
             h("p", { key: "what" }, capital([`${degrees(star.alt_deg, 0)} up, ${degrees(round360(star.az_deg), 0)} round from north`, brightness(star.v_mag), star.colour].filter(Boolean).join("; ")), ".")],
        rough(state, star)),
      eye(state, star)),
    anyStar(state),
    wayBlock(state, star.star),
    lookalikes(star),
  ];
}

const BY_EYE = "Aim at it by eye, then with the finder, and bring it to the middle of the eyepiece.";

/**
 * @param {Picture} state
 * @param {PlannedStar} star
 */
function rough(state, star) {
  if (star.az_reading_deg === null || star.alt_reading_deg === null) {
    // Before the first star the readings mean nothing yet, and nobody has said what to do.
    return state.sightings.length || star.az_deg === null || ui.learner ? null
      : h("p", { key: "rough" }, BY_EYE);
  }
  // What is to be settled is what the readings tell: a way by them could lead anywhere.
  if (state.slip) return h("p", { key: "rough" }, `The readings may be wrong now. ${BY_EYE}`);
  const r = store.reading;
  const typed = asksForReadings(state);
  const [az, alt] = [degrees(shownAz(state, star.az_reading_deg), 1), degrees(shownAlt(state, star.alt_reading_deg), 1)];
  if (typed || !usable(r)) return h("p", { class: "big-words", key: "rough" }, `Push until the azimuth circle reads about ${az}, the altitude circle ${alt}.`);
  return [
    h("p", { class: "rough", key: "rough" }, h("strong", { id: "rough-left" }, roughLeft(star))),
    h("p", { key: "rough-to" }, `until the top line reads about: turned ${az}, raised ${alt}.`),
  ];
}

/** @param {PlannedStar} star */
function roughLeft(star) {
  const r = store.reading;
  if (!r || !usable(r) || r.az_reading_deg === null || r.alt_reading_deg === null) return "";
  if (star.az_reading_deg === null || star.alt_reading_deg === null) return "";
  const az = turn(star.az_reading_deg - r.az_reading_deg);
  const alt = star.alt_reading_deg - r.alt_reading_deg;
  return `${degrees(Math.abs(az), 1)} ${side(az)}, ${degrees(Math.abs(alt), 1)} ${way(alt)}`;
}

/**
 * The button is the view in the eyepiece: a graduated rim, a star in the middle.
 * @param {Picture} state
 * @param {NowCentred} star
 */
function eye(state, star) {
  const typed = asksForReadings(state);
  // Out of the phone's reach the telescope's computer still hears the encoders: a tap can be kept.
  const unheard = store.silent && store.reading?.state === "live";
  const ready = typed || unheard || usable(store.reading);
  const words = resting() ? "Noted" : ready ? "Centred" : "No reading";
  return h("div", { class: "eye-box", key: "eye" },
    h("button", {
      type: "button", id: "centred", class: resting() ? "eye resting" : "eye", disabled: !ready && !resting(),
      "aria-label": `${star.what ?? star.star} is centred: record it`,
      oncontextmenu: (e) => e.preventDefault(),
      ...pressed((at) => tap(at, state, star)),
    }, h("span", { class: "eye-star", "aria-hidden": "true" }), h("span", { class: "eye-word" }, words),
      h("span", { class: "eye-small" }, resting() ? (store.queue.length || state.doubts.length ? "not yet saved" : "saved") : typed ? "then type the readings" : unheard ? "no link: this phone keeps the tap" : ready ? "tap at that very moment" : "the encoders do not answer")),
    ready ? null : h("p", { key: "why" }, whole(store.reading?.problem)));
}

/**
 * @param {Pressed} at
 * @param {Picture} state
 * @param {NowCentred} star
 */
function tap(at, state, star) {
  if (resting()) return;
  ui.restUntil = performance.now() + REST_MS;
  setTimeout(redraw, REST_MS + 50);
  if (navigator.vibrate) navigator.vibrate(40);
  ui.again = "";
  if (asksForReadings(state)) {
    return ask({ name: "sight", star: star.star, target: "", what: star.what ?? star.star, at });
  }
  record("sight", { star: star.star }, at, star.what ?? star.star);
  redraw();
}

/** Taps the server has not yet said it saved. */
export function queue() {
  if (!store.queue.length) return null;
  return h("ul", { class: "unsaved", key: "unsaved" }, store.queue.map((q) =>
    h("li", { key: q.id },
      q.error
        ? [h("p", {}, h("strong", {}, `${capital(q.what)}: could not be saved. `), q.error),
           h("div", { class: "row" }, q.wants === "readings"
             ? [otherWay(q) ? button("They were exchanged", () => exchange(q)) : null, button("Type the readings", () => askAgain(q))]
             : button("Try again", () => tryAgain(q.id)), button("Throw it away", () => { ui.restUntil = 0; discard(q.id); }))]
        : h("p", {}, h("strong", {}, `${capital(q.what)}: not yet saved. `), "This phone keeps it and goes on trying."))));
}

/** @param {PlannedStar} star */
export function lookalikes(star) {
  const list = star.lookalikes || [];
  if (!list.length) return null;
  if (!fields.has(star.star)) {
    fields.set(star.star, null);
    get("/data/around", `?star=${encodeURIComponent(star.star)}`).then((d) => { fields.set(star.star, d); redraw(); }, () => fields.delete(star.star));
  }
  const data = fields.get(star.star);
  return h("section", { class: "alike", key: `alike-${star.star}` },
    h("h2", {}, `Not to be taken for ${star.star}`),
    h("ul", { class: "cautions" }, list.map((l, i) => h("li", { key: l.name }, h("strong", {}, `${String.fromCharCode(65 + i)}  `), l.sentence))),
    data ? h("div", { class: "around-box", raw: true, key: "around", ref: (el) => el.append(starField(data, star.star, list)) }) : null,
    h("p", {}, `${star.star} is the one in the ring. Drawn ${data ? `${Math.round(2 * data.radius_deg)}° across, ` : ""}as the eye sees it, up at the top.`));
}

/**
 * Why this star once more, or what comes before it.
 * @param {Picture} state
 * @param {PlannedStar | null} star
 */
function why(state, star) {
  const n = state.next;
  if (!star || !state.sightings.length) return null;
  // A star that was sighted already is asked for with the reason.
  const again = n.settles || state.sightings.some((s) => s.star === star.star);
  const told = n.do === "answer" || (n.do === "sight" && n.star === star.star && again);
  return told && !state.slip ? h("p", { class: "big-words", key: "why" }, n.sentence) : null;
}

/** @param {Picture} state */
function nextHere(state) {
  const fix = state.fix;
  return [
    fix ? h("p", { class: "answer long", key: "answer" }, fix.sentence) : null,
    nextBlock(state),
    state.next.do === "sight" && !state.next.settles
      ? h("p", { key: "find" }, button("Find an object now", () => go("find")))
      : null,
  ];
}

/** @param {Picture} state */
function recorded(state) {
  if (!state.sightings.length) return null;
  return h("p", { key: "so-far", class: "so-far" },
    `Saved so far: ${state.sightings.map((s) => [s.star, s.utc && `at ${hour(state, s.utc)}`, s.set_aside && "(set aside)"].filter(Boolean).join(" ")).join(", ")}.`);
}

/**
 * @param {Picture} state
 * @param {PlannedStar | null} star
 * @param {string} [title]
 */
function chooser(state, star, title = "Another star") {
  return section("stars", title, star ? `now ${star.star}` : "",
    h("ul", { class: "lines" }, state.plan.map((p) =>
      h("li", { key: p.star }, button(
        h("span", {}, h("strong", {}, p.star), h("small", {}, `${p.where}${p.done ? "; sighted already, sight again" : ""}`)),
        () => { ui.star = p.star; ui.again = p.star; act("aim_at", { star: p.star }); redraw(); scrollTo(0, 0); }, { class: "line" })))),
    entry("star-search", "Any other star, by name", { oninput: (e) => starSearch(e.target.value) }),
    ui.stars && ui.stars.length
      ? h("ul", { class: "lines" }, ui.stars.map((s) => h("li", { key: s.name }, button(
          h("span", {}, h("strong", {}, s.label || s.name), h("small", {}, [s.where, brightness(s.v_mag)].filter(Boolean).join(", "))),
          async () => {
            if (await act("plan_add", { star: s.name }) && await act("aim_at", { star: s.name })) { ui.star = s.name; ui.stars = null; ui.starQuery = ui.padFor = ""; ui.open_stars = false; const box = field("star-search"); if (box) box.value = ""; redraw(); scrollTo(0, 0); }
          }, { class: "line" }))))
      : ui.stars && ui.starQuery ? h("p", {}, "No star by that name.") : null);
}

let starTimer = 0;
/** @param {string} q */
function starSearch(q) {
  clearTimeout(starTimer);
  ui.starQuery = q.trim();
  starTimer = setTimeout(async () => {
    if (!ui.starQuery) ui.stars = null;
    else ui.stars = await get("/data/search", `?kind=star&q=${encodeURIComponent(ui.starQuery)}`).then((d) => d.results, /** @returns {FoundThing[]} */ () => []);
    redraw();
  }, 150);
}

/** @param {Picture} state */
function more(state) {
  return section("sight-more", "Eyepiece and readings", state.kit ? state.kit.eyepiece : "",
    eyepieceRow(state),
    h("p", {}, `The circles now: ${readingText(store.reading).toLowerCase()}.`),
    h("p", {}, state.outing ? `Outing ${state.outing.number}, begun ${hour(state, state.outing.started_utc, true)}.` : ""));
}

/** @param {Picture} state */
export function live(state) {
  const star = state && current(state);
  const left = document.getElementById("rough-left");
  if (left && star && star.az_reading_deg !== null) {
    const text = roughLeft(star);
    if (left.textContent !== text) left.textContent = text;
  }
}
