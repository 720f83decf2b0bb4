// Somebody else's telescope: their message is read, and a reply made that is fit to send.

import { h } from "./dom.js";
import { get, say, whyNot } from "./store.js";
import { big, button, entry, fieldValue, redraw } from "./parts.js";

/** @type {CoachAnswer | null} */
let told = null;

export function helping() {
  return h("div", { key: "helping" },
    h("p", { class: "answer" }, "Somebody asks you for help? Paste what they wrote."),
    h("label", { for: "coach-text" }, "Their message, as it is"),
    h("textarea", { id: "coach-text", rows: 6, value: "" }),
    entry("coach-town", "Their town, if you know it", {}, "plain"),
    entry("coach-day", "Their evening, as 2027-01-28; empty for today", {}, "plain"),
    big("What follows from it", ask, { key: "ask" }),
    told ? reply(told) : null);
}

/** @param {CoachAnswer} d */
const reply = (d) => h("section", { key: "reply", role: "status" },
  h("h2", {}, "A reply to send"),
  d.place ? h("p", {}, `Times and heights are those of ${d.place}.`) : null,
  h("p", { class: "letter", id: "coach-reply" }, d.reply),
  button("Copy it", copy, { key: "copy" }));

async function ask() {
  const asked = new URLSearchParams({ text: fieldValue("coach-text"), town: fieldValue("coach-town"), day: fieldValue("coach-day") });
  try {
    told = await get("/data/coach", `?${asked}`);
    say("");
  } catch (e) {
    say(whyNot(e), true);
  }
  redraw();
}

async function copy() {
  const text = told ? told.reply : "";
  try {
    await navigator.clipboard.writeText(text); // only over a safe link
    say("Copied.");
  } catch {
    const shown = document.getElementById("coach-reply");
    if (shown) getSelection()?.selectAllChildren(shown);
    say("It is marked: copy it with the phone’s own Copy.");
  }
}
