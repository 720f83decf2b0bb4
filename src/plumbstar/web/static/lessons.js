// For someone who has never done this: each screen explained once, in three sentences at most.

import { h } from "./dom.js";
import { button, keepUi, redraw, ui } from "./parts.js";
import { store } from "./store.js";

/** [heading, sentences]; the screen's own words stay what they are. @type {Record<string, string[]>} */
const LESSONS = {
  prepare: ["Before dusk", "A telescope pushed by hand does not know where it points. It is worked out from two bright stars that you centre. Which two makes a great difference, so they are chosen for your place and your trees. Say where you stand, then have them chosen."],
  sight: ["Sighting a star", "Find the named star by eye, bring it to the middle of the eyepiece, let go of the tube, and tap. Tap when it is centred, for the sky turns. A wrong star is the usual mistake: read which star it may be mistaken for."],
  fix: ["What was worked out", "From the stars you sighted, the telescope’s tilt and its small faults are worked out. The sentence says how many of your targets would then be in the eyepiece; more stars make it better, and the first two do most."],
  tonight: ["What to look at", "Easy, fair and hard tell whether your eye will see it tonight, with this telescope, under your sky. The order keeps pushes short and takes first what goes down first. Tap one to be guided to it."],
  find: ["The push", "Push the tube until both figures are near zero: left or right first, then up or down. Look in with your lowest power. There? Centre it and say so: that makes the next push better. Not there? Say that, and you are guided around the place."],
  log: ["What was seen", "Every tap is kept by itself. Write down what you saw and save that note, to read it again in a year."],
  mend: ["When it goes wrong", "The possible causes are listed, the likeliest first, each with a check that would decide it. Begin with the first. Most evenings it is a wrong star."],
};

/** Beside a closed controller these screens are others. @type {Record<string, string[]>} */
const BESIDE = {
  sight: ["Stop, star, star", "Your controller trusts the stop and its two stars. Tap here at each of the three, in the moment in which you tell the controller. Then type the number that it shows, and look back once: from these the telescope’s small faults are worked out."],
  find: ["On from its zero", "Choose the object on the controller and push until it shows zero. The object is not quite there: push on as this page says, and look in. There? Centre it, say so, and type what the controller then still wants: that makes the next push better."],
};

/**
 * The lesson of a screen, or nothing when it has been read or was not asked for.
 * @param {string} name
 */
export function lesson(name) {
  const text = (store.state?.beside && BESIDE[name]) || LESSONS[name];
  if (!ui.learner || !text || ui.learnt.includes(name)) return null;
  return h("aside", { class: "beside lesson", key: "lesson", "aria-label": "Explained" },
    h("h2", {}, text[0]),
    h("p", {}, text[1]),
    button("I see", () => set({ learnt: [...ui.learnt, name] })));
}

/**
 * The first screen's offer, while nothing has been done yet.
 * @param {Picture} state
 */
export function offer(state) {
  if (ui.learner || ui.offered || state.outing || state.fix || state.plan.length) return null;
  return h("div", { class: "row", key: "offer" },
    button("New to this? Have each step explained", () => set({ learner: true, offered: true, learnt: [] })),
    button("I know how", () => set({ offered: true })));
}

/** @param {boolean} on */
export const teach = (on) => set({ learner: on, offered: true, learnt: [] });

/** @param {Partial<Ui>} what */
function set(what) {
  Object.assign(ui, what);
  keepUi();
  redraw();
}
