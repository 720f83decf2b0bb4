// The evening's order as this phone last heard it: shared by Tonight and Find.

import { Refused, get, store, whyNot } from "./store.js";
import { redraw, ui } from "./parts.js";
import { asItIs, supposedQuery, supposing } from "./whatif.js";

/** @type {AgendaAnswer | null | undefined} */
let plan; // undefined until asked, null if there was no answer
let problem = "";
let asked = "";
let busy = false;
let begun = 0; // counts "plan anew": the server then forgets the order it had
/** @type {number | null} */
let failed = null; // the timer of the next try after no answer

/** What the plan hangs on; the server looks at the clock by itself each time it is asked. */
function wanted(/** @type {Picture} */ s) {
  const minute = Math.floor((s.server_unix_ms || 0) / 120_000);
  return JSON.stringify([s.site, s.kit?.toml, s.skyline?.text, s.outing?.id, s.sightings.length, s.fix?.mean_hit_chance, s.beside?.finds.length, s.beside?.answer, Boolean(s.sun_question), Boolean(s.slip), query(), minute, begun]);
}

/** What one would like of the order, as its address says it. */
export const wishes = () => `hours=${ui.agendaHours}&kind=${ui.agendaKind}&hardest=${ui.agendaHardest}${ui.agendaNew ? "&new=1" : ""}`;

const query = () => wishes() + supposedQuery();

export async function refresh() {
  if (busy || failed || !store.state?.site || store.silent) return;
  const want = wanted(store.state);
  if (want === asked) return;
  busy = true;
  const anew = begun > refresh.begun && !supposing();
  try {
    plan = await get("/data/agenda", `?${query()}${anew ? "&anew=1" : ""}`);
    problem = "";
    if (!supposing()) refresh.begun = begun;
    asked = want;
  } catch (e) {
    problem = whyNot(e);
    // An order is for one hour, and tells where things stand: none while it is asked about the Sun.
    if (plan === undefined || store.state?.sun_question) plan = null;
    if (e instanceof Refused) asked = want;
    else failed = setTimeout(() => { failed = null; redraw(); }, 3000);
  } finally {
    busy = false;
    redraw();
  }
}
refresh.begun = 0;

export function anew() {
  begun += 1;
  asItIs();
}

export const agenda = () => ({ plan, problem, busy });

/** The next thing to look at, or null. */
export const following = () => (plan && plan.next) || null;

/** @type {{ find: string, visit: VisitRecord | null }} */
let offered = { find: "", visit: null };

/**
 * What to push on to after a find: chosen once, when it is first drawn, from the order as it was known then.
 * What is worked out meanwhile must not change the largest button under a finger.
 * @param {string} find which find it is
 * @param {string} name what was found
 */
export function nextAfter(find, name) {
  if (offered.find !== find) {
    // The order may be from before the last finds.
    const s = store.state;
    const found = new Set([name, ...(s?.sightings ?? []).map((x) => x.star), ...(s?.beside?.finds ?? []).filter((f) => f.found).map((f) => f.target)]);
    offered = { find, visit: plan?.visits.find((v) => !v.done && !found.has(v.target_name)) ?? null };
  }
  return offered.visit;
}
