// What cannot be pushed to: the Sun is near it or near the way there, it is down, or there is no fix.

import { h } from "./dom.js";
import { act, store } from "./store.js";
import { big, button, redraw, section, ui } from "./parts.js";
import { nextBlock } from "./next.js";
import { rehearseButton } from "./rehearse.js";
import { facts, fieldBack, readNow, typeNow } from "./targetparts.js";

/**
 * What the Sun forbids: the answer, then the caution. The figures are for who asks: `figures`.
 * @param {TargetRecord} t
 * @param {SunToldRecord} told
 */
const forbidden = (t, told) => [
  h("p", { class: "target-name", key: "name" }, t.label || t.name),
  h("p", { class: "answer", key: "answer", role: "alert" }, told.answer),
  h("p", { class: "big-words", key: "caution" }, told.caution),
];

/** @param {SunToldRecord} told */
const figures = (told) => told.more ? section("sun-more", "More", "", h("p", {}, told.more)) : null;

/**
 * @param {Picture} state
 * @param {TargetRecord} t
 * @param {SunToldRecord} told
 */
export function refusal(state, t, told) {
  const s = state.sun;
  const byDay = Boolean(s && s.up && !s.filter_confirmed && state.can_rehearse);
  return [
    forbidden(t, told),
    s ? h("p", { key: "sun" }, s.sentence) : null,
    t.refused_field
      ? big("On to the next field", () => act("not_in_field"), { key: "onfield" })
      : null,
    byDay && !t.refused_field ? rehearseButton(state, true) : null,
    (t.refused_field || byDay ? button : big)("Choose another", () => act("clear_target"), { key: "next" }),
    s && s.up && !s.filter_confirmed
      ? h("section", { key: "filter" },
          h("h2", {}, "With a solar filter"),
          h("label", { class: "check" },
            h("input", { type: "checkbox", checked: Boolean(ui.filterSeen), onchange: (e) => { ui.filterSeen = e.target.checked; redraw(); } }),
            h("span", {}, "I have looked: a solar filter made for the purpose covers the whole front of the tube, is whole, and cannot come off.")),
          button("The filter is fitted", () => act("confirm_filter", { confirmed: true }, "Filter confirmed for this outing."), { disabled: !ui.filterSeen }))
      : null,
    figures(told),
  ];
}

/**
 * By day the way there is looked at, too, and where it begins must be known.
 * @param {Picture} state
 * @param {TargetRecord} t
 * @param {SunToldRecord} told
 */
export function barred(state, t, told) {
  const typed = state.kit?.connection === "typed";
  const unread = typed && store.reading?.az_reading_deg === null;
  return [
    forbidden(t, told),
    typed ? [
      unread ? null : h("p", { key: "anew" }, "Typed readings stay as they were typed: type them again after the tube was moved."),
      unread ? h("div", { key: "read" }, readNow(big)) : typeNow(),
    ] : null,
    typed
      ? h("div", { class: "row", key: "other" }, button("Choose another", () => act("clear_target")))
      : big("Choose another", () => act("clear_target"), { key: "other" }),
    t.searching ? fieldBack() : null,
    figures(told),
    h("p", { key: "facts" }, facts(t)),
  ];
}

/**
 * No fix, or below the horizon: there is nothing to push to, and the page says why.
 * @param {Picture} state
 * @param {TargetRecord} t
 */
export function unreachable(state, t) {
  const down = t.alt_deg !== null && t.alt_deg < 0; // then no star that is sighted helps
  return [
    h("p", { class: "target-name", key: "name" }, t.label || t.name),
    (t.warnings || []).map((w) => h("p", { class: "answer", key: w }, w)),
    state.fix || down ? null : h("p", { class: "answer", key: "nofix" }, "There is no fix yet."),
    state.fix || down ? null : nextBlock(state),
    state.fix || down
      ? big("Choose another", () => act("clear_target"), { key: "other" })
      : button("Choose another", () => act("clear_target"), { key: "other" }),
    t.searching ? fieldBack() : null,
    h("p", { key: "facts" }, facts(t)),
  ];
}
