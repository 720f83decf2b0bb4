// Is the Sun below the horizon? Asked where the clocks known here disagree; nothing is pointed to
// until somebody at the telescope has looked.

import { h } from "./dom.js";
import { act, keep, load } from "./store.js";
import { big, button } from "./parts.js";

const KEY = "plumbstar.screen";

/** By this the log tells who answered: a few letters of this screen's own. */
export function screenName() {
  /** @type {string | null} */
  let name = load(KEY, null);
  if (typeof name !== "string" || !/^[a-z0-9]{4}$/.test(name)) {
    name = Math.random().toString(36).slice(2, 6).padEnd(4, "0");
    keep(KEY, name);
  }
  return name;
}

/** @param {boolean} below */
const answer = (below) => () => act("answer_sun", { below, screen: screenName() });

const YES = "Yes, it is below the horizon";
const NO = "No, or I am not sure";

/**
 * The whole of a page that would lead somewhere.
 * @param {SunQuestionRecord} q
 */
export const sunPage = (q) => [
  h("p", { class: "answer", key: "answer", role: "alert" }, q.question),
  h("p", { class: "big-words", key: "why" }, q.why),
  q.told ? h("p", { key: "told" }, q.told) : null,
  h("p", { class: "warning", key: "caution" }, `Look at the sky, not at a clock.${q.told ? " The" : " Until this is answered with yes nothing is pointed to: the"} Sun in an eyepiece blinds at once and for good.`),
  big(YES, answer(true), { key: "next" }),
  q.told ? null : button(NO, answer(false), { key: "no" }),
];

/**
 * The same above every other page.
 * @param {SunQuestionRecord} q
 */
export const sunBanner = (q) =>
  h("div", { class: "banner", key: "sun-question", id: "sun-question" },
    h("p", {}, h("strong", {}, q.question), ` ${q.told || `${q.why} Nothing is pointed to until this is answered with yes.`}`),
    button(YES, answer(true)),
    q.told ? null : button(NO, answer(false)));
