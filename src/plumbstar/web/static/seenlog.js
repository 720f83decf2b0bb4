// Seen: when did I last see it, and with what?

import { h } from "./dom.js";
import { act, get, store, whyNot } from "./store.js";
import { button, choiceRow, entry, go, redraw, section, ui } from "./parts.js";
import { capital, plural } from "./words.js";

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
    found && found.eye ? h("p", { class: "note", key: "eye" }, found.eye) : null,
    lists(),
    found && found.looks.length ? h("div", { class: "row", key: "keep" },
      h("a", { class: "button", href: "/data/seen.csv", download: "seen.csv" }, "Save all you have seen as a table (CSV)"),
      h("a", { class: "button", href: "/data/seen.xml", download: "seen.xml" }, "Save all you have seen as an Open Astronomy Log")) : null,
    h("div", { class: "row", key: "back" }, button("Back to the log", () => go("log"))),
  ];
}

/** @type {ListsAnswer | null | undefined} */
let known;
let listsFor = -1;

/** How far each list has got; one opened shows what of it is left, and stands well this month. */
function lists() {
  const version = store.state?.version ?? -1;
  if (listsFor !== version) {
    listsFor = version;
    get("/data/lists").catch(() => null).then((reply) => { known = reply ?? known; redraw(); });
  }
  if (!known) return null;
  return h("section", { key: "lists" },
    h("h2", {}, "Lists"),
    known.lists.map((l) => section(`list-${l.name}`, l.name, l.objects ? `${l.seen} of ${l.objects} seen` : "",
      l.objects ? left(l) : null,
      l.unknown.length ? h("p", { key: "unknown" }, `No object is known here by ${l.unknown.length === 1 ? "the name" : "the names"} ${l.unknown.join(", ")}.`) : null)));
}

/** So many of a list are buttons. */
const MOST = 40;

/** @param {ListProgress} l */
function left(l) {
  if (!l.left.length) return h("p", { key: "all" }, "All of it is seen.");
  const now = l.left_this_month;
  const soon = new Set(now.map((t) => t.name));
  const later = l.left.filter((t) => !soon.has(t.name));
  const placed = Boolean(store.state?.site);
  const month = now.length === 0 ? "none of them stands well this month."
    : `${now.length} of them ${now.length === 1 ? "stands" : "stand"} well this month, ${now.length > MOST ? `here the ${MOST} that go` : "the first to go"} down first:`;
  return [
    h("p", { key: "how-many" }, `${plural(l.left.length, "object")} left${placed ? `; ${month}` : ". Say in Prepare where you stand, and it is told which stand well this month."}`),
    h("div", { class: "row", key: "now" }, now.slice(0, MOST).map((t) => button(t.label, () => { act("set_target", { name: t.name }); go("find"); }, { key: t.name }))),
    now.length > MOST ? section(`more-${l.name}`, "Also well placed this month", String(now.length - MOST), h("p", {}, `${now.slice(MOST).map((t) => t.label).join(", ")}.`)) : null,
    later.length ? section(`later-${l.name}`, placed ? "Left for other months" : "Left", String(later.length), h("p", {}, `${later.map((t) => t.label).join(", ")}.`)) : null,
  ];
}

/**
 * @param {SeenBefore} x
 * @param {number} i
 */
const row = (x, i) => h("li", { key: `${x.outing} ${x.name} ${i}` },
  h("p", {}, h("strong", {}, x.label), x.kind && x.label !== capital(x.kind) ? `, ${x.kind}` : ""),
  h("p", { class: "small" }, `${x.day}: ${x.how}.${x.sketches ? " With a sketch." : ""}${x.words ? ` “${x.words}”` : ""}`));

export function live() {}
