// Pages that come after the first drawing, so that over a weak Wi-Fi it comes sooner. They are asked
// for as soon as the evening is known, and mostly there before anybody opens one.

import { h } from "./dom.js";
import { say, whyNot } from "./store.js";
import { answer, big, redraw } from "./parts.js";

const SAID_MS = 6000; // a script that neither comes nor fails
const WAITS_MS = [2000, 4000, 8000, 15000]; // after the first failure, the second ...

/** @type {typeof import("./rest.js").pages | null} */
let pages = null;
let asked = false;
let tries = 0;
let late = false;

/** Ask for them, once; again and again where they do not come. */
export async function bring() {
  if (asked) return;
  asked = true;
  const timer = setTimeout(tellLate, SAID_MS);
  try {
    // Another address at each try: some browsers remember that a script did not come.
    /** @type {typeof import("./rest.js")} */
    const rest = await import(`./rest.js?${tries}`);
    pages = rest.pages;
    redraw();
  } catch {
    tellLate();
    setTimeout(() => { asked = false; bring(); }, WAITS_MS[Math.min(tries, WAITS_MS.length - 1)]);
    tries += 1;
  }
  clearTimeout(timer);
}

function tellLate() {
  late = true;
  redraw();
}

// Where the telescope's computer was given another program meanwhile, only the page loaded anew has
// its address. Only once there is an answer: the browser's own page for "no answer" is a white lamp.
async function loadAnew() {
  try {
    await fetch(location.pathname, { cache: "no-store" });
    location.reload();
  } catch (e) {
    say(whyNot(e), true);
  }
}

const missing = () => h("div", { key: "awaited" },
  answer(late ? "This page has not come yet. It is asked for again." : "One moment…"),
  late ? h("p", { key: "why" }, "Is this phone still on the telescope’s Wi-Fi? Nothing that was saved is lost.") : null,
  late ? big("Load it again", loadAnew, { key: "next" }) : null);

/**
 * A page as the shell has it, whether it has come or not.
 * @param {keyof typeof import("./rest.js").pages} name
 * @param {string} title
 * @param {string} question
 */
export const awaited = (name, title, question) => ({
  title,
  question,
  view: (/** @type {Picture} */ state) => (pages ? pages[name].view(state) : missing()),
  live: (/** @type {Picture} */ state) => (pages ? pages[name].live(state) : undefined),
});
