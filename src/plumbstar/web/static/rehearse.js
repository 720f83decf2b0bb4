// A rehearsal: the evening gone through with a simulated telescope, and at its end what was hidden in it.

import { h } from "./dom.js";
import { act, get, say, whyNot } from "./store.js";
import { big, button, redraw, ui, wear } from "./parts.js";
import { capital, day } from "./words.js";

const BACK = "?rehearsed"; // says to the pages that the rehearsal is over
let starting = false;
/** @type {HiddenAnswer | null} */
let found = null; // what was hidden, once it was asked for

/**
 * That the telescope is simulated, on every screen, with the way out; or that the hour is made up.
 * @param {Picture} state
 */
export function rehearsalLine(state) {
  const r = state.rehearsal;
  if (!r && !(state.timing && !state.timing.compare)) return null;
  // The moment is made up, so that nobody here knows where the true Sun stands.
  return h("p", { class: "rehearsal", key: "rehearsal" },
    h("span", {}, h("strong", {}, r && r.own_kit ? "A rehearsal, simulated. " : r ? "A demo, simulated. " : `A rehearsal of ${day(state, state.now_utc)}. `),
    "By day the caps stay on."),
    r && r.back_port !== null ? h("a", { class: "end-rehearsal", href: `${location.protocol}//${location.hostname}:${r.back_port}/${BACK}` }, "End the rehearsal") : null);
}

/** The pages of a rehearsal stand at another address: they are told how this phone is dressed. */
const asDressed = () => `?${new URLSearchParams({ dress: ui.dress, text: String(ui.text), lamp: String(ui.lamp), ...(ui.offered ? { learner: String(ui.learner) } : {}) })}`;

/** Whoever comes to a rehearsal is dressed as before; whoever comes back from one has no more use for it. */
export function fromElsewhere() {
  const worn = new URLSearchParams(location.search);
  if (worn.has("dress")) {
    history.replaceState(null, "", `/${location.hash}`);
    wear({ dress: worn.get("dress") === "day" ? "day" : "night", text: [150, 200].find((t) => String(t) === worn.get("text")) ?? 100, lamp: Number(worn.get("lamp")) });
    if (worn.has("learner")) wear({ offered: true, learner: worn.get("learner") === "true" });
  }
  if (location.search !== BACK) return;
  history.replaceState(null, "", "/");
  act("end_rehearsal", {}, "The rehearsal is over. This is the real telescope.");
}

async function begin() {
  if (starting) return;
  starting = true;
  say("A simulated telescope is being made ready. It takes some seconds…");
  redraw();
  const done = await act("rehearse");
  starting = false;
  redraw();
  if (done) location.href = `${location.protocol}//${location.hostname}:${done.port}/${asDressed()}`;
}

/**
 * One press to try the evening with one's own telescope, simulated; nothing where that cannot be.
 * @param {Picture} state
 * @param {boolean} [next] it is the next action
 */
export const rehearseButton = (state, next = false) => state.can_rehearse
  ? h("div", { key: "rehearse" },
      (next ? big : button)(starting ? "A moment…" : "Rehearse tonight now", begin, { id: "rehearse", disabled: starting }),
      h("p", { class: "note" }, `${state.kit.toml ? `Your own telescope${state.beside ? " and controller" : ""}` : "The plain telescope that is assumed until yours is described"}, simulated, as if it were tonight. The real one stays where it is, cap on; nothing gets into your log.`))
  : null;

/**
 * At the end of the outing, before its fix is gone.
 * @param {Picture} state
 */
export const revealAtTheEnd = async (state) => state.rehearsal && (state.fix || state.beside) ? ask() : undefined;

async function ask() {
  try {
    found = await get("/data/hidden");
  } catch (e) {
    say(whyNot(e), true);
  }
  redraw();
}

/**
 * At the end of a rehearsal: what was hidden, beside what was worked out.
 * @param {Picture} state
 */
export function hiddenBlock(state) {
  if (!state.rehearsal) return null;
  if (!found) return h("div", { key: "hidden" }, button("Show what was hidden in this telescope", ask, { id: "reveal" }));
  return h("section", { key: "hidden", "aria-labelledby": "hidden-title" },
    h("h2", { id: "hidden-title" }, "What was hidden"),
    h("p", { class: "big-words" }, found.sentence),
    h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "What was hidden" },
      h("table", {}, h("thead", {}, h("tr", {}, ["", "Hidden", "Worked out"].map((t) => h("th", { scope: "col" }, t)))),
        h("tbody", {}, found.rows.map((r) => h("tr", {}, h("td", {}, capital(r.label)), h("td", {}, r.hidden), h("td", {}, r.solved || "–")))))),
    h("p", { class: "note" }, "What the stars did not show stands as the kit expects it, with the doubt that was allowed for it."),
    state.fix ? button("Ask again, with the stars sighted since", ask) : null);
}
