// Log: what was seen? The evening's sightings, finds and notes, and those of evenings before.

import { h } from "./dom.js";
import { act, get, say, store, whyNot } from "./store.js";
import { big, button, field, fieldValue, go, redraw, ui, undoButton } from "./parts.js";
import { hiddenBlock, revealAtTheEnd } from "./rehearse.js";
import { SAID, skyBlock } from "./seen.js";
import { sketchShown } from "./sketch.js";
import { queue } from "./sight.js";
import { capital, day, hour, plural, round360 } from "./words.js";

/** @type {OutingLine[] | null | undefined} */
let outings; // undefined until asked, null if there was no answer
/** @type {Map<number, OutingAnswer | Problem>} */
const opened = new Map(); // id -> outing in full
let askedFor = -1;

async function ask() {
  // The log changes with the state and with nothing else.
  const version = store.state?.version;
  if (version === undefined || askedFor === version) return;
  askedFor = version;
  try {
    outings = (await get("/data/log")).outings;
    for (const id of opened.keys()) opened.set(id, await get(`/data/log/${id}`));
  } catch {
    if (!outings) outings = null;
  }
  redraw();
}

/** @param {number} id */
async function open(id) {
  if (opened.has(id)) opened.delete(id);
  else opened.set(id, await get(`/data/log/${id}`).catch((e) => ({ problem: whyNot(e) })));
  redraw();
}

/** @param {Picture} state */
export function view(state) {
  ask();
  const now = state.outing && !state.outing.ended_utc ? state.outing : null;
  return [
    queue(),
    now
      ? h("p", { class: "answer", key: "answer" }, tally(state, now))
      : h("p", { class: "answer", key: "answer" }, "No outing is under way."),
    now ? note() : keepsake() ?? big("Prepare an outing", () => go("prepare"), { key: "next" }),
    !now && ui.kept !== undefined ? button("Prepare another outing", () => go("prepare"), { key: "another" }) : null,
    now ? skyBlock(state) : null,
    undoButton(state),
    now ? ending(now) : null,
    hiddenBlock(state),
    h("section", { key: "outings" },
      h("h2", {}, "Outings"),
      outings === undefined ? h("p", {}, "Looking…")
        : outings === null ? h("p", {}, "No answer from the telescope’s computer.")
        : outings.length ? [h("ul", { class: "lines" }, outings.map(row)), h("p", { class: "note" }, "Times are by each site’s own clock. The saved files have UTC, so that nights and places can be compared.")]
        : h("p", {}, "None yet. The first outing will be listed here.")),
    h("p", { key: "seen" }, h("a", { href: "#seen", class: "button" }, "Everything you have seen")),
    h("p", { key: "mend" }, h("a", { href: "#mend", class: "button" }, "What the log tells about the mount")),
  ];
}

/** @param {number} finds */
const counted = (finds) => finds ? plural(finds, "object") : "no object";

/**
 * In the dress that is worn.
 * @param {number} id
 */
const pageOf = (id) => `/data/log/${id}.html${ui.dress === "day" ? "?dress=day" : ""}`;

/** Just after the end: the evening as one file. */
const keepsake = () => ui.kept === undefined ? null
  : h("div", { key: "kept" },
      h("a", { class: "next kept", href: pageOf(ui.kept), download: `evening-${ui.kept}.html` }, "Keep the evening as a page"),
      h("p", { class: "note" }, (outings || []).find((o) => o.id === ui.kept)?.finds === 0
        ? "One file: the sky, the stars sighted, your notes."
        : "One file: your path over the sky, the finds with what you wrote and drew, what was learnt of the telescope."));

/**
 * @param {Picture} state
 * @param {OutingNow} now
 */
function tally(state, now) {
  const mine = (outings || []).find((o) => o.id === now.id);
  if (state.beside) return `Outing ${now.number}: ${mine ? counted(mine.finds) : "objects"} looked for beside your controller.`;
  const finds = mine ? ` and ${counted(mine.finds)} looked for` : "";
  return `Outing ${now.number}: ${plural(state.sightings.length, "sighting")}${finds}.`;
}

function note() {
  return h("div", { key: "note" },
    h("label", { for: "note-text" }, "A note for tonight"),
    h("textarea", { id: "note-text", rows: 3, value: "" }),
    big("Save the note", async () => {
      const box = field("note-text");
      const text = fieldValue("note-text");
      if (!box || !text) return say("Nothing is written yet.", true);
      if (await act("note", { text }, "Note saved.")) box.value = "";
    }, { key: "next" }));
}

/** @param {OutingNow} now */
function ending(now) {
  if (!ui.ending) return button("End the outing", () => { ui.ending = true; redraw(); }, { key: "end", class: "quiet" });
  return h("div", { key: "ending", class: "row" },
    button(`Yes, end outing ${now.number}`, async () => {
      ui.ending = false;
      if (store.state) await revealAtTheEnd(store.state);
      if (await act("end_outing", {}, "The outing is ended. All of it is in the log.")) ui.kept = now.id;
      redraw();
    }),
    button("No, go on", () => { ui.ending = false; redraw(); }));
}

/** @param {OutingLine} o */
function row(o) {
  const full = opened.get(o.id);
  return h("li", { key: o.id },
    button(h("span", {}, h("strong", {}, `${day(o, o.started_utc)}  ${o.site || ""}`),
      h("small", {}, `Outing ${o.id}, ${o.ended_utc ? `${hour(o, o.started_utc)} to ${hour(o, o.ended_utc, true)}` : `since ${hour(o, o.started_utc, true)}, still going`}; ${o.sightings ? `${plural(o.sightings, "sighting")}, ` : ""}${counted(o.finds)} looked for.`)),
      () => open(o.id), { class: "line", "aria-expanded": full ? "true" : "false" }),
    full ? detail(o.id, full) : null);
}

/**
 * @param {number} id
 * @param {OutingAnswer | Problem} o
 */
function detail(id, o) {
  if ("problem" in o) return h("p", {}, o.problem);
  return h("div", { class: "detail", key: "detail" },
    o.fix ? h("p", {}, o.fix) : null,
    o.shown.length ? table("Beside the controller", ["Time", "What", "It showed"], o.shown.map((s) => [hour(o, s.utc), s.what, s.shown])) : null,
    o.sightings.length ? table("Sightings", ["Time", "Star", "Turned, raised", ""], o.sightings.map((s) => [
      hour(o, s.utc), s.star, `${round360(s.az_reading_deg).toFixed(2)}°, ${s.alt_reading_deg.toFixed(2)}°`.replace("-", "−"),
      [s.set_aside ? `set aside${s.reason ? `: ${s.reason}` : ""}` : s.origin === "typed" ? "typed" : "",
        s.corrected_by ? `time corrected by ${s.corrected_by}` : ""].filter(Boolean).join("; ")])) : null,
    o.finds.length ? table("Objects", ["Time", "Object", ""], o.finds.map((f) => [hour(o, f.utc), f.target, f.found ? `found, ${f.eyepiece}` : "not found"])) : null,
    o.looks.length ? [h("h3", {}, "What was seen"), o.looks.map((x) => seenLine(o, x))] : null,
    o.notes.length ? [h("h3", {}, "Notes"), o.notes.map((n) => h("p", { key: n.utc }, `${hour(o, n.utc)}. ${n.text}`))] : null,
    h("div", { class: "row", key: "keep" },
      h("a", { class: "button", href: pageOf(id), download: `evening-${id}.html` }, "The evening as a page to keep"),
      canShare ? button("Share it", () => share(id)) : null),
    h("div", { class: "row" },
      h("a", { class: "button", href: `/data/log/${id}.csv`, download: `outing-${id}.csv` }, "Save the sightings as a table (CSV)"),
      h("a", { class: "button", href: `/data/log/${id}.json`, download: `outing-${id}.json` }, "Save all (JSON)"),
      h("a", { class: "button", href: `/data/log/${id}.xml`, download: `outing-${id}.xml` }, "What was seen, as an Open Astronomy Log"),
      h("a", { class: "button", href: `/data/log/${id}.report`, download: `outing-${id}-report.json` },
        "Something went wrong: save a report for a maintainer")),
    h("p", { class: "small" }, "The report holds directions, readings, counts and the fix. Left out are the "
      + "place, dates and times, the names of stars and telescope, and your notes. All the same the heights of the stars "
      + "tell the latitude; and the Moon or a planet, if you centred one, tells the longitude, too."));
}

/**
 * @param {OutingAnswer} o
 * @param {LoggedLookLine} x
 */
const seenLine = (o, x) => h("div", { key: `${x.utc}${x.target}` },
  h("p", {}, h("strong", {}, x.label), ` ${hour(o, x.utc)}. ${[capital(SAID[x.seen]), x.eyepiece].filter(Boolean).join(", ")}.${x.words ? ` ${x.words}` : ""}`),
  x.sketches.map((s) => sketchShown(s, x.label)));

/** Only over https, or on the computer itself, does a browser let a page share a file. */
const canShare = "canShare" in navigator;

/** @param {number} id */
async function share(id) {
  try {
    const reply = await fetch(pageOf(id), { headers: { "X-Plumbstar": "1" } });
    if (!reply.ok) throw new Error();
    const files = [new File([await reply.blob()], `evening-${id}.html`, { type: "text/html" })];
    if (!navigator.canShare({ files })) return say("This phone does not share such a file. Save it, and send it from there.", true);
    await navigator.share({ files, title: "An evening at the telescope" });
  } catch (e) {
    if (e instanceof DOMException && e.name === "AbortError") return; // put away by whoever opened it
    say("It could not be shared. Save it, and send it from there.", true);
  }
}

/**
 * @param {string} caption
 * @param {string[]} head
 * @param {Kids[][]} rows
 */
function table(caption, head, rows) {
  return h("div", { class: "scroll", key: caption, tabindex: 0, role: "region", "aria-label": caption },
    h("table", {}, h("caption", {}, caption),
      h("thead", {}, h("tr", {}, head.map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", {}, rows.map((r) => h("tr", {}, r.map((c) => h("td", {}, c)))))));
}

export function live() {}
