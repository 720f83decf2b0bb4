// What the push to a target and the refusal of one share.

import { h } from "./dom.js";
import { act, say } from "./store.js";
import { button, entry, section, typedNumber } from "./parts.js";
import { brightness, capital, degrees } from "./words.js";

/** @param {TargetRecord} t */
export const facts = (t) => h("span", {}, capital([
  [t.kind, t.constellation && `in ${t.constellation}`].filter(Boolean).join(" "), brightness(t.v_mag),
  t.double ? `double: ${t.double}` : "",
  t.size_arcmin ? `${t.size_arcmin.toFixed(t.size_arcmin < 10 ? 1 : 0)}′ across` : "",
  t.alt_deg === null ? "" : t.alt_deg < 0 ? t.where : `${t.where}, ${degrees(t.alt_deg, 0)} up`,
].filter(Boolean).join("; ")), ".");

export const fieldBack = () => button("Pressed by mistake: one field back", () => act("one_field_back", {}, "Taken back."), { class: "quiet", id: "field-back", key: "back" });

/** What the circles read now, typed in: from there the push begins. */
export const typeNow = () => section("type-now", "Type what they read now", "", readNow());

export const readNow = (use = button) => [
  entry("now-az", "Azimuth circle, degrees", {}, "number"),
  entry("now-alt", "Altitude circle, degrees", {}, "number"),
  use("Use these readings", () => {
    const b = { az_deg: typedNumber("now-az"), alt_deg: typedNumber("now-alt") };
    if (Number.isFinite(b.az_deg) && Number.isFinite(b.alt_deg)) act("typed_reading", b, "Readings taken.");
    else say("Both readings must be numbers, as 213.4.", true);
  }),
];

/**
 * What the circles should read, degrees: for the field of the search to look at, else for the target.
 * @param {TargetRecord} t
 */
export function wanted(t) {
  const { az_reading_deg, alt_reading_deg } = t.sweep || t;
  return az_reading_deg === null || alt_reading_deg === null ? null : { az_deg: az_reading_deg, alt_deg: alt_reading_deg };
}
