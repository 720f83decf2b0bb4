// Comets and minor planets: which files of elements are here, how old they are, and what to do.

import { h } from "./dom.js";
import { get } from "./store.js";
import { redraw, section } from "./parts.js";

/** @type {ElementsAnswer | null} */
let known = null;
let asked = false;

export function elementsSection() {
  if (!asked) {
    asked = true;
    get("/data/elements").then((d) => { known = d; redraw(); }, () => { asked = false; });
  }
  if (!known) return null;
  return section("elements", "Comets and minor planets", known.short,
    known.files.length ? h("ul", { class: "lines", key: "files" }, known.files.map((f) => h("li", { key: f.name },
      h("p", {}, h("strong", {}, f.name), `: ${f.words}.`),
      f.bad ? h("p", { class: "small" }, f.bad) : null))) : null,
    known.deed ? h("p", { key: "deed" }, known.deed) : null);
}
