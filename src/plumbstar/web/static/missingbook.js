// The logbook is gone, empty or another, and a good copy of it is there: one question, before the
// evening's pages come up at the same address.

import { h, patch } from "./dom.js";
import { told } from "./store.js";
import { big, button, setRedraw, ui } from "./parts.js";

const LOOK_MS = 1000;

const stage = document.getElementById("stage");
/** @type {Tree[]} */
let drawn = [];
/** @type {MissingBookAnswer | null} */
let asked = null;
let said = "";
let bad = false;
let busy = false;
document.documentElement.dataset.dress = ui.dress;

function render() {
  const now = [h("main", { id: "main", class: "pair" },
    h("h1", {}, "The logbook"),
    asked && !busy ? [
      h("p", { class: "answer", id: "what", key: "what" }, asked.what),
      h("p", { key: "copy" }, `${asked.copy} ${asked.nothing_lost}`),
      h("p", { class: "big-words", id: "question", key: "question" }, asked.question)] : null,
    h("p", { class: bad ? "outcome bad" : "outcome", key: "said", role: "status", "aria-live": "polite" }, said),
    asked && !busy ? [
      big(asked.bring_back, () => answer(true), { key: "next", id: "bring-back" }),
      button(asked.go_on_without, () => answer(false), { key: "without", id: "go-on-without" })] : null)];
  patch(stage, drawn, now);
  drawn = now;
}
setRedraw(render);

/** @param {boolean} bring_back */
async function answer(bring_back) {
  if (busy) return;
  busy = true;
  bad = false;
  said = bring_back ? "The copy is being brought back…" : "A moment…";
  render();
  try {
    const reply = await fetch("/do/answer_book", {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Plumbstar": "1" },
      body: JSON.stringify({ bring_back }),
    });
    const body = await reply.json().catch(() => ({}));
    if (reply.ok) {
      said = `${body.said} The pages are coming up…`;
      return render();
    }
    said = told(body) || "That could not be done.";
  } catch {
    said = "No answer from the telescope’s computer. Is the phone on its network?";
  }
  bad = true;
  busy = false;
  render();
}

/** What is asked; once the evening is up, or another phone has answered, its pages. */
async function look() {
  try {
    const reply = await fetch("/data/missing-book", { headers: { "X-Plumbstar": "1" }, cache: "no-store" });
    if (reply.status === 401) return location.reload(); // no longer paired
    if (reply.ok) asked = await reply.json();
    else if (reply.status === 404 && await up()) return location.replace("/");
  } catch {
    // between the question's end and the pages' beginning nobody answers
  }
  render();
  setTimeout(look, LOOK_MS);
}

const up = async () => (await fetch("/data/version", { headers: { "X-Plumbstar": "1" }, cache: "no-store" })).ok;

render();
look();
document.documentElement.dataset.whole = ""; // loading.js waits for this
