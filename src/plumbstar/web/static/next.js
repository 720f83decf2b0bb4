// The next action, as Python has decided it: one sentence and the largest button, the same on every page.

import { h } from "./dom.js";
import { act } from "./store.js";
import { big, go, redraw, ui } from "./parts.js";

const REST_MS = 400; // a thumb already on its way meant the button that stood there before
let shown = ""; // what the button meant when it was drawn last, and on which page
let changed = -Infinity;

/** @param {Picture} state */
const meaning = (state) => `${state.next.do} ${state.next.do === "sight" ? state.next.star : ""}`.trim();

/**
 * Do it.
 * @param {Picture} state
 */
export async function doNext(state) {
  const n = state.next;
  if (n.do === "answer") return toQuestion();
  if (n.do === "start") return (await act("start_outing", {}, "The outing has begun.")) && go("sight");
  if (n.do === "sight" && state.nameless && !n.star) {
    ui.star = "?";
    ui.again = "";
  }
  if (n.do === "sight" && n.star) {
    if (!state.plan.some((p) => p.star === n.star) && !(await act("plan_add", { star: n.star }))) return;
    await act("aim_at", { star: n.star });
    ui.star = n.star;
    ui.again = "";
  }
  if (n.do === "sight" && location.hash === "#sight") {
    // Which star is not known here: any other one will do.
    if (!n.star && !state.nameless) ui.open_stars = true;
    redraw();
    return scrollTo(0, 0);
  }
  go(n.page);
}

/** The question stands above every page. */
function toQuestion() {
  ui.allNotices = true; // something else may stand before it
  redraw();
  scrollTo(0, 0);
  /** @type {HTMLElement | null} */ (document.querySelector(".notices .banner button"))?.focus();
}

/**
 * The largest thing on the page.
 * @param {Picture} state
 */
export function nextButton(state) {
  const now = meaning(state), page = location.hash;
  if (shown !== `${page} ${now}`) {
    if (shown.startsWith(`${page} `)) changed = performance.now();
    shown = `${page} ${now}`;
  }
  return big(state.next.button, () => {
    if (performance.now() - changed > REST_MS) doNext(state);
  }, { key: `next-${now}` });
}

/**
 * Why, unless it stands above the page already, and the button.
 * @param {Picture} state
 */
export const nextBlock = (state) => [
  state.slip ? null : h("p", { class: "big-words", key: "next-why" }, state.next.sentence),
  nextButton(state),
];
