// Seen: when did I last see it, and with what?

import { h } from "./dom.js";
import { get, store, whyNot } from "./store.js";
import { button, choiceRow, entry, go, redraw, ui } from "./parts.js";
import { capital } from "./words.js";

export const title = "Seen";
export const question = "What have you seen?";

/** @type {[string, string][]} */
const KINDS = [["", "Everything"], ["cluster", "Clusters"], ["nebula", "Nebulae"], ["galax", "Galaxies"], ["double", "Doubles"], ["planet", "Planets"]];
/** @type {[string, string][]} */
const WHEN = [["", "Ever"], ["365", "A year"], ["31", "A month"]];

/** @type {SeenAnswer | null | undefined} */
let found;
let problem = "";
let askedWith = "";
let timer = 0;

function ask() {
  const query = `?q=${encodeURIComponent(ui.seenName ?? "")}&kind=${ui.seenKind ?? ""}&days=${ui.seenDays ?? ""}`;
  const now = `${query} ${store.state?.version}`;
  if (askedWith === now) return;
  askedWith = now;
  clearTimeout(timer);
  timer = setTimeout(async () => {
    const reply = await get("/data/seen", query).catch((e) => { problem = whyNot(e); return null; });
    if (now !== askedWith) return; // more was typed since
    found = reply;
    redraw();
  }, found === undefined ? 0 : 150);
}

/** @param {Partial<Ui>} what */
function set(what) {
  Object.assign(ui, what);
  redraw();
}

/** @param {Picture} _state */
export function view(_state) {
  ask();
  return [
    h("p", { class: "answer", key: "answer" }, found === undefined ? "Looking through the log…" : found === null ? problem : found.sentence),
    entry("seen-name", "An object, or nothing for all", { value: ui.seenName ?? "", type: "search", oninput: (e) => set({ seenName: e.target.value }) }, "text"),
    choiceRow("seen-kind", "Of which kind?", KINDS, ui.seenKind ?? "", (v) => set({ seenKind: v })),
    choiceRow("seen-days", "Since when?", WHEN, ui.seenDays ?? "", (v) => set({ seenDays: v })),
    found && found.looks.length ? h("ul", { class: "lines", key: "looks" }, found.looks.map(row)) : null,
    found && found.more_count ? h("p", { class: "note", key: "more" }, `And ${found.more_count} more: narrow it down to see them.`) : null,
    h("div", { class: "row", key: "back" }, button("Back to the log", () => go("log"))),
  ];
}

/** @param {SeenBefore} x */
const row = (x) => h("li", { key: `${x.outing} ${x.name} ${x.day}` },
  h("p", {}, h("strong", {}, x.label), x.kind && x.label !== capital(x.kind) ? `, ${x.kind}` : ""),
  h("p", { class: "small" }, `${x.day}: ${x.how}.${x.sketches ? " With a sketch." : ""}${x.words ? ` “${x.words}”` : ""}`));

export function live() {}
