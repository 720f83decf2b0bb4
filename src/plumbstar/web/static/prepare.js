// Prepare: which stars tonight? Before dusk, indoors or out.

import { h } from "./dom.js";
import { act } from "./store.js";
import { big, bullets, button, eyepieceRow, fieldValue, go, mapBlock, redraw, section, ui, wear } from "./parts.js";
import { kitLines, ownPair } from "./besidekit.js";
import * as kitasked from "./kitasked.js";
import { cardSection } from "./card.js";
import { elementsSection } from "./elements.js";
import { panorama } from "./skyline.js";
import { siteSection } from "./site.js";
import { wayBlock } from "./starway.js";
import { stopFold, stopQuestion } from "./stop.js";
import { nextBlock } from "./next.js";
import { rehearseButton } from "./rehearse.js";
import { capital, degrees, hour, hoursOf, inOrder, list, plural } from "./words.js";

export const title = "Prepare";
export const question = "Which stars tonight?";

const strip = panorama((points) => {
  ui.skylineText = points.map(([a, b]) => `${a}:${b}`).join(" ");
  redraw();
});
/** @type {string | null} */
let stripFor = null;

/** @param {Picture} state */
export function view(state) {
  if (stripFor !== state.skyline?.text) {
    stripFor = state.skyline?.text ?? "";
    ui.skylineText = stripFor;
    strip.set(state);
  }
  if (!state.site) ui.open_site = true;
  if (kitasked.asking()) return kitasked.question();
  return [
    stopQuestion(state),
    state.site ? answer(state) : noSite(),
    state.sun ? h("p", { class: "sun", key: "sun" }, sunWords(state, state.sun)) : null,
    state.sun && state.sun.up ? [dayDress(), rehearseButton(state)] : null,
    undescribed(state),
    planList(state),
    waysSection(state),
    state.site ? others(state) : null,
    state.site && state.beside && state.beside.kit.stars.length ? ownPair(state.beside) : null,
    state.site ? mapBlock(state, true) : null,
    siteSection(state),
    state.beside && state.beside.kit.stars.length ? kitLines(state, state.beside) : null,
    kitSection(state),
    stopFold(state),
    skylineSection(state),
    elementsSection(),
    state.site ? cardSection(state) : null,
  ];
}

/** Red on black cannot be read in sunlight. */
const dayDress = () => ui.dress === "night" && !ui.dressAsked
  ? h("div", { class: "row", key: "dress" },
      button("By day: black on white", () => dressAs("day")),
      button("Stay red", () => dressAs("night")))
  : null;

/** @param {string} dress */
function dressAs(dress) {
  ui.dressAsked = true;
  wear({ dress });
}

/**
 * @param {Picture} state
 * @param {SunRecord} sun
 */
const sunWords = (state, sun) =>
  state.clock.zone === "UTC" ? sun.sentence : `${sun.sentence.replace(/\.?$/, ".")} ${hoursOf(state)}`;

/**
 * Until it is described every chance is of a telescope that is nobody's.
 * @param {Picture} state
 */
const undescribed = (state) => !state.site || state.kit.toml || state.rehearsal ? null
  : h("section", { key: "undescribed" },
      h("h2", {}, "Your telescope is not described yet"),
      h("p", {}, "Until then a plain one is assumed: 200 mm, f/6, one eyepiece of 25 mm, and circles read by eye."),
      button("Describe it, by a few questions", kitasked.begin, { id: "describe" }));

const noSite = () => [
  h("p", { class: "answer", key: "answer" }, "First say where you will stand."),
  h("p", { key: "why" }, "Type coordinates or a town below, and save the site."),
];

/**
 * @param {StarSetRecord} set
 * @param {KitRecord} kit
 */
const inField = (set, kit) => `${capital(set.mean_hit_chance_words)} targets will be in the ${kit.eyepiece} field`;

/** @param {Picture} state */
function answer(state) {
  const c = state.choice;
  const picked = state.plan.length > 0;
  if (state.outing && !state.outing.ended_utc && picked) {
    return [
      h("p", { class: "answer", key: "answer" }, `Tonight: ${list(state.plan.map((p) => p.star))}.`),
      nextBlock(state),
    ];
  }
  if (picked) {
    return [
      h("p", { class: "answer", key: "answer" }, capital(inOrder(state.plan.map((p) => p.star)))),
      h("p", { key: "chance", class: "big-words" }, chosenChance(state)),
      big("Start the outing", async () => (await act("start_outing", {}, "The outing has begun.")) && go("sight"), { key: "next" }),
    ];
  }
  if (c && c.status === "working" && !c.pairs.length) {
    return [
      h("p", { class: "answer", key: "answer" }, "Trying every pair…"),
      h("p", { key: "chance" }, "Every usable star is tried with every other, for your skyline and your field. It takes a few seconds."),
    ];
  }
  const best = c?.pairs[0];
  if (best) {
    return [
      h("p", { class: "answer", key: "answer" }, `First ${inOrder(best.stars)}`),
      h("p", { class: "big-words", key: "chance" }, `${inField(best, state.kit)}.`),
      c.for_objects ? h("p", { class: "note", key: "for" }, `Chosen for the ${plural(c.for_objects, "object")} on tonight’s list.`) : null,
      bullets(best.cautions),
      big(`Use ${list(best.stars)}`, () => pick(best), { key: "next" }),
      state.beside ? h("div", { class: "beside", key: "compare" }, h("p", {}, `Once you have typed the number that it shows and looked back; both are asked for as you go. By the controller alone the same two give ${best.hit_chance_trusting_stop_words}.`)) : compare(best, c.recipe),
    ];
  }
  if (c?.status === "ready") {
    return [
      h("p", { class: "answer", key: "answer" }, "No two stars are good enough just now."),
      h("p", { key: "chance" }, c.sentence || "Nothing bright enough stands above your skyline. Try again later in the evening."),
      big("Choose again", () => act("choose", { stars: 2 }), { key: "next" }),
    ];
  }
  return [
    h("p", { class: "answer", key: "answer" }, state.beside ? "Two good stars of your controller’s list are enough." : "Two good stars are enough for the whole sky."),
    big("Choose tonight’s stars", () => act("choose", { stars: 2 }), { key: "next" }),
    h("p", { key: "tonight" }, h("a", { href: "#tonight", class: "button" }, "First see what is worth looking at tonight"),
      h("small", { class: "note" }, "The stars are then chosen for those objects.")),
  ];
}

/** @param {Picture} state */
function chosenChance(state) {
  if (state.beside) return state.beside.pair_words || "A controller is told two stars: choose another one.";
  const names = state.plan.map((p) => p.star);
  const c = state.choice;
  // Of two the order hardly counts; of three it may cost several targets in a hundred.
  const set = c?.pairs.find((s) => s.stars.slice().sort().join() === names.slice().sort().join())
    ?? c?.triples.find((s) => s.stars.join() === names.join());
  return set ? `${inField(set, state.kit)}.` : "Your own choice of stars.";
}

/**
 * @param {StarSetRecord} best
 * @param {StarSetRecord | null} recipe
 */
function compare(best, recipe) {
  return h(
    "div",
    { class: "beside", key: "compare" },
    h("p", {}, `With the upright stop simply trusted the same two would give ${best.hit_chance_trusting_stop_words}.`),
    recipe && recipe.stars
      ? h("p", {}, `The usual way, two bright stars well apart and the stop trusted, would take ${list(recipe.stars)}: ${recipe.hit_chance_trusting_stop_words}.`)
      : null,
  );
}

/** @param {StarSetRecord} set */
const pick = (set) => act("pick", { stars: set.stars }, `Chosen: first ${inOrder(set.stars)}.`);

/**
 * @param {StarSetRecord} set
 * @param {KitRecord} kit
 */
function setRow(set, kit) {
  return h(
    "li",
    { key: set.stars.join() },
    button(
      h("span", {}, h("strong", {}, inOrder(set.stars)),
        h("small", {}, `${inField(set, kit)}. ${set.cautions.join(" ")}`)),
      () => pick(set),
      { class: "line" },
    ),
  );
}

/** @param {Picture} state */
function others(state) {
  const c = state.choice;
  if (!c || !c.pairs.length) return null;
  const pairs = c.pairs.slice(state.plan.length ? 0 : 1, 6);
  const triples = c.triples.slice(0, 3);
  return section(
    "others", "Other choices", `${pairs.length + triples.length} more`,
    pairs.length ? [h("h3", {}, "Two stars"), h("ul", { class: "lines" }, pairs.map((s) => setRow(s, state.kit)))] : null,
    triples.length
      ? [h("h3", {}, "Three stars"), h("ul", { class: "lines" }, triples.map((s) => setRow(s, state.kit)))]
      : c.status === "working"
        ? h("p", {}, "Three stars are still being tried…")
        : state.beside ? null
        : button("Find the best three", () => act("choose", { stars: 3 }), { key: "three" }),
    button("Choose again for the present time", () => act("choose", { stars: 2 }), { key: "again" }),
  );
}

/** @param {Picture} state */
function planList(state) {
  if (!state.plan.length) return null;
  return h(
    "section",
    { key: "plan" },
    h("h2", {}, "Chosen stars"),
    h("ul", { class: "lines" }, state.plan.map((p) =>
      h("li", { key: p.star, class: "planned" },
        h("span", {}, h("strong", {}, p.star, designation(p)),
          h("small", {}, `${p.where ? `${capital(p.where)}${p.alt_deg === null ? "" : `; ${degrees(p.alt_deg, 0)} up`}. ` : ""}${p.visible_from_utc && p.visible_from_utc > state.now_utc ? `To be seen from about ${hour(state, p.visible_from_utc, state.clock.zone === "UTC")}.` : ""}${p.done ? " Sighted." : ""}`)),
        button("Leave out", () => act("plan_remove", { star: p.star }, `${p.star} left out.`), { "aria-label": `Leave out ${p.star}` })))),
  );
}

/** @param {Picture} state */
function waysSection(state) {
  const best = state.choice?.pairs[0];
  const stars = state.plan.length ? state.plan.filter((p) => !p.done).map((p) => p.star) : best?.stars ?? [];
  if (!state.site || !stars.length) return null;
  return section("ways", `How do I know ${list(stars)}?`, "", ui.open_ways ? stars.map((s) => wayBlock(state, s, true)) : null);
}

/**
 * A star's name is what a person says; its letter or number stands small beside it.
 * @param {PlannedStar} p
 */
const designation = (p) => (p.label && p.label !== p.star ? h("span", { class: "designation" }, ` ${p.label}`) : null);

/** @param {Picture} state */
function kitSection(state) {
  const k = state.kit;
  return section(
    "kit", "Your telescope", k ? `${k.name}, ${k.eyepiece}` : "not yet known",
    eyepieceRow(state),
    state.beside?.kit.stars.length ? null : big("My controller shows only numbers", async () => {
      if (!state.beside && !(await act("set_controller", { stars: [] }, "Now what you have, question by question."))) return;
      go("sight");
    }, { key: "controller" }),
    state.beside ? null : button(k.toml ? "Change it, question by question" : "Describe it, by a few questions", kitasked.begin, { key: "asked" }),
    h("p", {}, "Everything about the telescope is in this one text. Change a number, then save."),
    h("label", { for: "kit-text" }, "Kit"),
    h("textarea", { id: "kit-text", rows: 14, spellcheck: "false", autocapitalize: "off", value: k ? k.toml : "" }),
    state.sun && state.sun.up ? null : rehearseButton(state),
    button("Save the kit", () => act("set_kit", { toml: fieldValue("kit-text") + "\n" }, "Kit saved."), { key: "save" }),
  );
}

/** @param {Picture} state */
function skylineSection(state) {
  const n = state.skyline.points_deg.length;
  const changed = ui.skylineText !== (state.skyline?.text ?? "");
  return section(
    "skyline", "Your skyline", n ? `${n} points` : "open all round",
    h("p", { id: "skyline-help" }, "Drag the points to the tops of your trees and roofs. Tap the strip to add one. With a keyboard: Tab to a point, arrow keys move it, Delete removes it."),
    h("div", { class: "strip", raw: true, key: "strip", role: "group", "aria-label": "Skyline strip", "aria-describedby": "skyline-help", ref: (el) => el.append(strip.node) }),
    button("Add a point", () => strip.add(), { key: "add" }),
    h("label", { for: "skyline-text" }, "Or type pairs, azimuth:height"),
    h("textarea", {
      id: "skyline-text", rows: 3, spellcheck: "false", value: ui.skylineText ?? "",
      oninput: (e) => {
        ui.skylineText = e.target.value;
        redraw();
      },
    }),
    changed ? h("p", {}, "Changed, not yet saved.") : null,
    button("Save the skyline", () => act("set_skyline", { text: ui.skylineText ?? "" }, "Skyline saved."), { key: "save" }),
  );
}

export function live() {}
