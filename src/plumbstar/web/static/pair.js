// Pairing: the code from the telescope's computer lets this phone in. It comes in the link's
// fragment, which browsers never send, or is typed.

import { h, patch } from "./dom.js";
import { told } from "./store.js";
import { big, entry, fieldValue, setRedraw, ui } from "./parts.js";

const stage = document.getElementById("stage");
/** @type {Tree[]} */
let drawn = [];
let said = "";
let busy = false;
document.documentElement.dataset.dress = ui.dress;

function render() {
  const now = [h("main", { id: "main", class: "pair" },
    h("h1", {}, "Pair this phone"),
    h("p", { class: "answer" }, "This phone is not paired with the telescope yet."),
    h("p", {}, "The telescope’s computer shows a code where the program was started. Type it here, or point the phone’s camera at the square pattern beside it."),
    h("p", { class: "outcome bad", role: "status", "aria-live": "polite" }, said),
    entry("code", "Code", { autocapitalize: "characters", onkeydown: (e) => { if (e.key === "Enter") pair(fieldValue("code")); } }, "code"),
    big(busy ? "Asking…" : "Pair", () => pair(fieldValue("code")), { id: "pair" }))];
  patch(stage, drawn, now);
  drawn = now;
}
setRedraw(render);

/** @param {string} code */
async function pair(code) {
  if (busy) return;
  if (!code) {
    said = "Type the code first.";
    return render();
  }
  busy = true;
  said = "";
  render();
  try {
    const reply = await fetch("/pair", {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Plumbstar": "1" },
      body: JSON.stringify({ code }),
    });
    const body = await reply.json().catch(() => ({}));
    if (reply.ok) return location.replace("/");
    said = told(body) || "That is not the code.";
  } catch {
    said = "No answer from the telescope’s computer. Is the phone on its network?";
  }
  busy = false;
  render();
}

const code = decodeURIComponent(location.hash.slice(1));
if (location.pathname === "/pair" && code) {
  // Out of the address bar at once, so that it is not kept or shared by accident.
  history.replaceState(null, "", "/pair");
  render();
  pair(code);
} else render();
document.documentElement.dataset.whole = ""; // loading.js waits for this
