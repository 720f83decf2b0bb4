// Tonight: what is worth looking at, and in which order?

import { h } from "./dom.js";
import { act } from "./store.js";
import { answer, big, button, canPoint, choiceRow, go, keepUi, redraw, section, toggle, ui } from "./parts.js";
import { nextBlock } from "./next.js";
import * as own from "./own.js";
import { agenda, anew, refresh } from "./agenda.js";
import { moving, supposedLine, supposing, whatIf } from "./whatif.js";
import { capital, degrees, plural } from "./words.js";

export const title = "Tonight";
export const question = "What tonight?";

/** @type {[string, string][]} */
const KINDS = [["all", "Everything"], ["cluster", "Clusters"], ["nebula", "Nebulae"], ["galaxy", "Galaxies"], ["double", "Doubles"], ["body", "Moon, planets"], ["own", "My own"]];
/** @type {[string, string][]} */
const HARDEST = [["easy", "Easy ones"], ["fair", "Fair too"], ["hard", "Hard too"]];
/** @type {[string, string][]} */
const HOURS = [["1", "1 hour"], ["2", "2 hours"], ["3", "3 hours"], ["5", "5 hours"], ["14", "All night"]];

/** @param {Picture} state */
export function view(state) {
  if (!state.site) {
    return [
      h("p", { class: "answer", key: "answer" }, "First say where you will stand."),
      big("To the site", () => go("prepare"), { key: "next" }),
    ];
  }
  refresh();
  const { plan, problem, busy } = agenda();
  if (plan === undefined) return [h("p", { class: "answer", key: "answer" }, "Going through the whole sky…")];
  if (plan === null && state.sun_question) return [answer("No order until it is known whether the Sun is up."), nextBlock(state)];
  if (plan === null) return [h("p", { class: "answer", key: "answer" }, problem), button("Try again", anew, { key: "again" })];
  return [
    problem ? h("p", { class: "warning", key: "problem" }, problem) : null,
    supposedLine(state, plan),
    head(state, plan),
    plan.visits.length ? list(state, plan) : null,
    ui.agendaKind === "own"
      ? h("div", { class: "row", key: "own" }, button("Add an object of your own", () => { own.begin(); go("find"); }))
      : null,
    plan.more.length ? more(plan) : null,
    section("wanted", "What you would like", wishes(),
      choiceRow("agenda-hours", "Until when?", HOURS, String(ui.agendaHours), (v) => set({ agendaHours: Number(v) })),
      choiceRow("agenda-kind", "Of which kind?", KINDS, ui.agendaKind, (v) => set({ agendaKind: v })),
      choiceRow("agenda-hardest", "How hard?", HARDEST, ui.agendaHardest, (v) => set({ agendaHardest: v })),
      toggle("Only what is new to me", ui.agendaNew, (on) => set({ agendaNew: on }), "what no outing in the log has found")),
    whatIf(state, plan),
    h("p", { class: "note", key: "light" }, plan.light),
    busy && !supposing() ? h("p", { class: "note", key: "busy" }, "Planning again…") : button("Plan again from now", anew, { key: "anew" }),
  ];
}

/** @param {Partial<Ui>} what */
function set(what) {
  Object.assign(ui, what);
  keepUi();
  redraw();
}

const wishes = () => {
  const name = (/** @type {string[][]} */ options, /** @type {string} */ value) => (options.find(([v]) => v === value) || options[0])[1].toLowerCase();
  return [name(HOURS, String(ui.agendaHours)), name(KINDS, ui.agendaKind), ui.agendaNew ? "new to me" : ""].filter(Boolean).join(", ");
};

/**
 * @param {Picture} state
 * @param {AgendaAnswer} plan
 */
function head(state, plan) {
  const v = plan.next;
  if (!v) return [answer(plan.answer), canPoint(state) && !state.next.settles ? null : sightFirst(state)];
  return [
    answer(`${v.soon ? "Now" : v.start}: ${v.label}. ${plan.difficulties[v.difficulty]}.`),
    h("p", { class: "big-words", key: "reason" }, `${v.what}. ${v.reason}`),
    h("p", { key: "how" }, how(state, v)),
    v.note ? h("p", { key: "note" }, v.note) : null,
    plan.late ? h("p", { class: "beside", key: "late" }, plan.late) : null,
    canPoint(state) && !state.next.settles ? big(`Push to ${v.short}`, () => push(v), { key: "next" }) : sightFirst(state),
  ];
}

/** @param {Picture} state */
const sightFirst = (state) => (state.plan.length
  ? nextBlock(state)
  : big("Choose stars for these", async () => (await act("choose", { stars: 2 })) && go("prepare"), { key: "next" }));

/**
 * @param {Picture} state
 * @param {VisitRecord} v
 */
const how = (state, v) => `With the ${v.with_what}${v.second_eyepiece ? `, second best the ${v.second_eyepiece}` : ""}; ${v.where}, ${degrees(v.alt_deg, 0)} up. Give it ${plural(v.minutes, "minute")}.`
  + ` ${capital(v.chance_words)} to see it${v.hit_chance === null ? "" : `, ${v.hit_chance_words} to have it in the ${state.kit.eyepiece} field`}.`;

/**
 * Choose it and go there; the eyepiece is for finding, so it stays as it is.
 * @param {WorthRecord} v
 */
export async function push(v) {
  ui.foundFor = "";
  if (!(await act("set_target", { name: v.name }))) return;
  go("find");
  scrollTo(0, 0); // from the page of the one before it, too
}

/**
 * @param {Picture} state
 * @param {AgendaAnswer} plan
 */
function list(state, plan) {
  return h("section", { key: "order" },
    h("h2", {}, "The order"),
    h("ol", { class: "lines agenda" }, plan.visits.map((v) =>
      h("li", { key: v.name, class: v.done ? "seen" : "" },
        button([thumbnail(v), h("span", {},
          h("strong", {}, h("span", { class: "at" }, v.start), " ", v.label),
          h("small", {}, v.done ? "Found." : [`${plan.difficulties[v.difficulty]}. ${v.what}`, `${v.with_what}, ${plural(v.minutes, "minute")}`, v.push].filter(Boolean).join("; ") + "."))],
        () => push(v), { class: "line pictured" })))),
    h("p", { class: "note" }, plan.order_note));
}

/**
 * The field as the eye will see it, small; the row says the same in words.
 * @param {VisitRecord} v
 */
const thumbnail = (v) => moving() ? h("span", { class: "thumbnail", key: "waits" }) : h("img", {
  class: "thumbnail", alt: "", loading: "lazy", width: 56, height: 56,
  src: `/data/thumbnail?name=${encodeURIComponent(v.name)}&eyepiece=${encodeURIComponent(v.eyepiece)}&dress=${ui.dress === "day" ? "day" : "night"}`,
});

/** @param {AgendaAnswer} plan */
function more(plan) {
  return section("more-objects", "Others worth a look", String(plan.more_count),
    h("ul", { class: "lines" }, plan.more.map((v) =>
      h("li", { key: v.name }, button(h("span", {},
        h("strong", {}, v.label),
        h("small", {}, `${plan.difficulties[v.difficulty]}. ${v.what}; best about ${v.start}. ${v.reason}`)),
      () => push(v), { class: "line" })))),
    plan.more_count > plan.more.length ? h("p", { class: "note" }, `And ${plan.more_count - plan.more.length} more; narrow down the kind to see them.`) : null);
}

export function live() {}
