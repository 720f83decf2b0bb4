// Checks led step by step: each settles one thing, by numbers written down.

import { h } from "./dom.js";
import { act, say } from "./store.js";
import { answer, big, bullets, button, choiceRow, entry, fieldValue, redraw, typedNumber, ui } from "./parts.js";
import { capital, spaced } from "./words.js";

/** What was found, and from what: the button takes what it was found from, whatever has been typed since.
 * @type {Map<string, { found: CheckVerdict, inputs: AskedCheckBody["inputs"] }>} */
const results = new Map();

/** @param {ChecksAnswer} d */
export function checks(d) {
  const open = d.checks.find((c) => c.id === ui.check);
  return h("div", { key: "checks" },
    h("p", { class: "answer" }, "Each check answers one question."),
    h("p", { class: "warning" }, d.sentence),
    h("ul", { class: "lines" }, d.checks.map((c) => h("li", { key: c.id },
      button(h("span", {}, h("strong", {}, c.title), h("small", {}, c.why)),
        () => { ui.check = ui.check === c.id ? "" : c.id; redraw(); }, { class: "line", "aria-expanded": c === open ? "true" : "false" }),
      c === open ? check(c) : null))),
    bullets([...d.cannot]));
}

/**
 * @param {CheckRecord} c
 * @param {CheckInput} i
 */
const chosen = (c, i) => (ui.picked || {})[`${c.id}.${i.key}`] ?? i.default;

/** @param {CheckRecord} c */
function check(c) {
  const result = results.get(c.id)?.found;
  return h("div", { key: "open" },
    c.warning ? h("p", { class: "warning" }, c.warning) : null,
    c.needs.length ? h("p", {}, `You need: ${c.needs.join(", ")}.`) : null,
    c.steps.length ? h("ol", { class: "steps" }, c.steps.map((s) => h("li", {}, s))) : null,
    c.inputs.map((i) => i.choices.length
      ? choiceRow(`c-${i.key}`, capital(i.label), i.choices.map((x) => [x, spaced(x)]), String(chosen(c, i)),
          (v) => { ui.picked = { ...ui.picked, [`${c.id}.${i.key}`]: v }; redraw(); })
      : entry(`in-${c.id}-${i.key}`, withUnit(i), { value: i.default ?? "" }, i.kind === "text" ? "plain" : i.kind)),
    big("What does it say?", () => run(c), { key: "run" }),
    result ? h("div", { key: "result", role: "status" },
      answer(result.sentence),
      result.mend ? h("p", {}, h("em", {}, result.state === "good" ? "" : "What to do: "), `${result.mend}.`) : null,
      result.button ? button(result.button, () => take(c), { key: "take" }) : null,
      bullets(result.numbers)) : null);
}

/** @type {Record<string, string>} */
const UNITS = { deg: "degrees", arcmin: "minutes of arc", mm: "mm", min: "minutes", s: "seconds" };
/** @param {CheckInput} i */
const withUnit = (i) =>
  capital(i.kind !== "text" && i.unit ? `${i.label}, ${UNITS[i.unit] || i.unit}` : i.label) + (i.kind === "numbers" ? ", one after another with spaces between" : "");

/**
 * What was written down, or null where something is no number, which is said.
 * @param {CheckRecord} c
 */
function written(c) {
  /** @type {AskedCheckBody["inputs"]} */
  const inputs = {};
  for (const i of c.inputs) {
    const id = `in-${c.id}-${i.key}`;
    if (i.choices.length) inputs[i.key] = chosen(c, i) ?? null;
    else if (fieldValue(id) === "") continue;
    else if (i.kind === "text") inputs[i.key] = fieldValue(id);
    else if (i.kind === "numbers") inputs[i.key] = fieldValue(id); // which comma is which is decided in one place
    else {
      const value = typedNumber(id);
      if (!Number.isFinite(value)) {
        say(`${capital(i.label)}: that must be a number.`, true);
        return null;
      }
      inputs[i.key] = value;
    }
  }
  return inputs;
}

/** What the check found goes into the kit. @param {CheckRecord} c */
async function take(c) {
  const inputs = results.get(c.id)?.inputs;
  if (!inputs || !(await act("take_check", { id: c.id, inputs }, "Written into the kit."))) return;
  results.delete(c.id); // it was judged by the kit as it was
  redraw();
}

/** @param {CheckRecord} c */
async function run(c) {
  results.delete(c.id); // no answer to other numbers stands beside a question about these
  const inputs = written(c);
  const reply = inputs && await act("check", { id: c.id, inputs });
  if (inputs && reply) results.set(c.id, { found: reply.result, inputs });
  redraw();
}
