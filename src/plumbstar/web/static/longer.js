// Found: how long to stay is the observer's own affair. What ten minutes more cost of the order, when asked.

import { h } from "./dom.js";
import { get, whyNot } from "./store.js";
import { button, redraw } from "./parts.js";
import { wishes } from "./agenda.js";

const STEP = 10, MOST = 60;

let asked = { find: "", minutes: 0, words: "", busy: false };

/** @param {string} find */
async function ask(find) {
  if (asked.busy) return;
  const minutes = (asked.find === find ? asked.minutes : 0) + STEP;
  asked = { ...asked, find, minutes, busy: true };
  redraw();
  let words = "";
  try {
    words = (await get("/data/longer", `?${wishes()}&minutes=${minutes}`)).answer;
  } catch (e) {
    words = whyNot(e);
  }
  if (asked.find === find) asked = { find, minutes, words, busy: false };
  redraw();
}

/** @param {string} find which find it is that one stays with */
export function stayLonger(find) {
  const here = asked.find === find ? asked : { minutes: 0, words: "", busy: false };
  return h("div", { key: "longer" },
    here.words ? h("p", { role: "status", key: "cost" }, here.words) : null,
    // It stays while it is reckoned: a key that pressed it is still upon it.
    here.minutes >= MOST && !here.busy ? null : button(here.minutes ? "And ten more?" : "Ten minutes more here?", () => ask(find), { class: "quiet", key: "ask" }));
}
