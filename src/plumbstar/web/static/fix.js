// Fix: is it good enough? One sentence, then numbers, then the map.

import { h } from "./dom.js";
import { act, say } from "./store.js";
import { nextBlock, nextButton } from "./next.js";
import { hiddenBlock } from "./rehearse.js";
import { answer, bullets, button, enterAs, eyepieceRow, go, mapBlock, redraw, section, ui, undoButton } from "./parts.js";
import { capital, degrees, hour, signed, signedTerm } from "./words.js";

export const title = "Fix";
export const question = "Is it good enough?";
const GOOD = 0.9; // nine targets in ten: then go and look at something
const HEARD = 0.05; // the sightings' share below which a term is only belief

/** @param {Picture} state */
export function view(state) {
  const f = state.fix;
  if (!f) {
    return [
      h("p", { class: "answer", key: "answer" }, "There is no fix yet."),
      h("p", { key: "say" }, "Sight one star, and there is a rough one. Two well placed stars usually settle it."),
      nextBlock(state),
    ];
  }
  return [
    answer(f.sentence),
    state.next.do === "find" ? nextButton(state) : nextBlock(state),
    state.next.do === "sight" && !state.next.settles
      ? h("p", { key: "find" }, button("Find an object now", () => go("find")))
      : null,
    rest(state, f),
  ];
}

/**
 * Below the answer and what to do next.
 * @param {Picture} state
 * @param {FixRecord} f
 */
function rest(state, f) {
  return [
    bullets(f.notes),
    others(f),
    (f.cuts || []).map((c) =>
      h("p", { key: `cut${c.after}` }, `${c.sentence} `, button("Nothing moved there after all", () => act("answer_move", { after: c.after, moved: false })))),
    eyepieceRow(state, "With which eyepiece?"),
    undoButton(state),
    sightings(state, f),
    state.slip
      ? null
      : h("p", { key: "knocked" }, button("I moved or knocked the base", () => act("base_moved", {}))),
    f.contradictory ? null : terms(f), // they mean nothing then
    hiddenBlock(state),
    state.slip ? null : mapBlock(state), // its chances are those from before the knock
    h("p", { key: "why" }, h("a", { href: "#mend", class: "button" }, f.contradictory ? "What went wrong?" : f.mean_hit_chance < GOOD ? "Why is it not better?" : "What is off on the telescope, and how to mend it")),
  ];
}

/** Names that were wrong, put right by one press. @param {FixRecord} f */
function others(f) {
  return f.others.length ? h("p", { key: "others" }, button(f.others_button, () => enterAs(f.others))) : null;
}

/** @param {FixRecord} f */
function terms(f) {
  return section("terms", "The mount in numbers", "",
    h("p", { class: "note" }, "The filled part of each bar is what your sightings settled. The rest was assumed beforehand, from the kit and from past outings."),
    h("ul", { class: "terms" }, f.terms.map((t) => {
      const share = Math.max(0, Math.min(1, t.from_data));
      return h("li", { key: t.name },
        h("p", { class: "term" }, h("strong", {}, capital(t.label)), h("span", { class: "value" }, signedTerm(t))),
        h("div", { class: "bar", role: "img", "aria-label": `${Math.round(100 * share)} parts in 100 from the sightings` }, h("div", { class: "part", css: { width: `${(100 * share).toFixed(0)}%` } })),
        meaning(t) ? h("small", {}, capital(meaning(t))) : null);
    })),
    angles(f));
}

/** @param {FixRecord} f */
const angles = (f) => f.misclosures.length
  ? [h("h3", { key: "angles" }, "Angles between the stars"), h("p", { class: "note", key: "angles-note" }, "The angle between two stars as your circles measured it, minus the true angle."),
     h("ul", { key: "angles-list" }, worst(f.misclosures).map((m) => h("li", {}, misclosure(m)))),
     f.misclosures.length > MOST ? h("p", { class: "note", key: "angles-more" }, `The ${f.misclosures.length - MOST} others are smaller.`) : null]
  : null;

/**
 * Which way a term counts: untrue of one that nothing has spoken of.
 * @param {TermRecord} t
 */
const meaning = (t) =>
  Number((t.value_percent ?? t.value_deg ?? 0).toFixed(2)) !== 0 && t.from_data >= HEARD ? t.meaning : "The sightings do not show this yet.";

const WHY = ["Perhaps the wrong star", "Not well centred", "Something was knocked", "I do not know"];

/**
 * @param {Picture} state
 * @param {FixRecord} f
 */
function sightings(state, f) {
  if (!state.sightings.length) return null;
  return h("section", { key: "sightings" },
    h("h2", {}, "Stars sighted"),
    h("ul", { class: "lines" }, state.sightings.map((s) =>
      h("li", { key: s.id, class: s.set_aside ? "sighting aside" : "sighting" },
        h("div", {},
          h("strong", {}, s.star),
          h("small", {}, `${hour(state, s.utc, true) || "No time"}${s.corrected_by ? `, corrected by ${s.corrected_by}` : ""}. `, s.set_aside
            ? `Set aside${s.reason ? `: ${s.reason}` : ""}`.replace(/([^?.!])$/, "$1.")
            : fits(f, s))),
        s.set_aside
          ? button("Restore", () => act("restore", { id: s.id }, `${s.star} counts again.`), { "aria-label": `Restore ${s.star}` })
          : button("Set aside", () => { ui.aside = ui.aside === s.id ? "" : s.id; redraw(); }, { "aria-label": `Set aside ${s.star}`, "aria-expanded": ui.aside === s.id ? "true" : "false" }),
        ui.aside === s.id && !s.set_aside
          ? h("div", { class: "why-aside", key: "why" }, h("p", {}, "Why? It stays in the log either way."),
              h("div", { class: "row" }, WHY.map((w) => button(w, async () => { ui.aside = ""; await act("set_aside", { id: s.id, reason: w }, `${s.star} set aside.`); }, { key: w }))),
              button("Delete it altogether", async () => { ui.aside = ""; (await act("delete_sighting", { id: s.id })) && say(`${s.star} deleted. Undo brings it back.`); }, { class: "quiet", key: "delete" }))
          : null))));
}

/**
 * How near the fix comes to one sighting; where it contradicts itself, only Mend says by how much.
 * @param {FixRecord} f
 * @param {PictureSighting} s
 */
const fits = (f, s) => {
  if (f.contradictory || s.residual_arcmin === null) return "";
  const by = `by ${degrees(s.residual_arcmin / 60)}`;
  const other = f.others.find((o) => o.sighting_id === s.id)?.star;
  if (other) return `The fix takes it for ${other}${s.residual_arcmin < 3 ? "" : `, and misses that ${by}`}.`;
  return s.residual_arcmin < 3 ? "The fix agrees with it to 0.05°." : `The fix misses it ${by}.`;
};

const MOST = 6;
/** @param {MisclosureRecord[]} list */
const worst = (list) => list.slice().sort((a, b) => Math.abs(b.misclosure_deg) - Math.abs(a.misclosure_deg)).slice(0, MOST);
/** @param {MisclosureRecord} m */
const misclosure = (m) =>
  `${m.stars[0]} to ${m.stars[1]}: ${signed(m.misclosure_deg)} on ${m.true_deg.toFixed(1)}°.`;

export function live() {}
