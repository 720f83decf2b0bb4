import { same } from "./ground.js";
import * as w from "./words.js";

const COMPASS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];

Deno.test("degrees have as many figures as a hand can use", () => {
  same([0.123, 0.994, 1.24, 99.94, 100.4, -0.5, null].map((d) => w.degrees(d)),
    ["0.12°", "0.99°", "1.2°", "99.9°", "100°", "−0.50°", "–"]);
  same(w.degrees(12.34, 0), "12°");
});

Deno.test("a trouble is a whole sentence", () => {
  same([w.whole("nothing is heard"), w.whole("Out."), w.whole(""), w.whole(undefined)], ["Nothing is heard.", "Out.", "", ""]);
});

Deno.test("a sign is shown, but not of nothing", () => {
  same([0.5, -0.5, 0.001, -0.001].map((d) => w.signed(d)), ["+0.50°", "−0.50°", "0.00°", "0.00°"]);
});

Deno.test("a term is in its own unit", () => {
  const none = { value_deg: null, sigma_deg: null, value_percent: null, sigma_percent: null };
  same(w.signedTerm({ ...none, value_deg: 0.91, sigma_deg: 0.05 }), "+0.91° ± 0.05°");
  same(w.signedTerm({ ...none, value_percent: -0.2, sigma_percent: 0.1 }), "−0.20\u00a0% ± 0.10\u00a0%");
  same(w.signedTerm({ ...none, value_deg: 1 }), "+1.00°");
  same(w.signedTerm({ ...none, value_deg: 0.5, sigma_deg: 0.004 }), "+0.50° ± 0.01°");
});

Deno.test("angles go round", () => {
  same([-10, 370, 720].map(w.round360), [350, 10, 0]);
  same([190, -190, 359, 0].map(w.turn), [-170, 170, -1, 0]);
});

Deno.test("reversed circles show what they show", () => {
  const state = { kit: { circles: { az_reversed: true, alt_reversed: true } } };
  same([w.shownAz(state, 10), w.shownAlt(state, 30)], [350, 60]);
  same([w.shownAz({ kit: { circles: {} } }, 10), w.shownAlt(null, 30)], [10, 30]);
});

Deno.test("the point of the compass is one of those sent", () => {
  same([0, 22, 23, 180, 337, 338, -45].map((az) => w.compass({ compass: COMPASS }, az)),
    ["north", "north", "north-east", "south", "north-west", "north", "north-west"]);
});

Deno.test("what is further off than the field reaches is not called in it", () => {
  const at = (/** @type {number} */ up_deg) => w.whereInField({ right_deg: 0, up_deg }, 1.5);
  same(at(0.88), "Just outside the field: likely 0.88° up of the middle. Push a little.");
  same(at(0.74), "In the field, likely 0.74° up of the middle. Look for it.");
});

Deno.test("how far off", () => {
  same(w.offset(0.2, -0.13), "0.20° right and 0.13° down of the middle");
  same(w.offset(-0.05, 0.004), "0.05° left of the middle");
  same(w.offset(0.001, 0), "in the middle");
});

Deno.test("hours through a night of changed clocks", () => {
  const state = { now_utc: "2027-10-30T20:00:00Z", clock: { zone: "Europe/Vienna", spans: [
    { from_utc: "2027-10-29T20:00:00Z", offset_s: 7200, short: "CEST" },
    { from_utc: "2027-10-31T01:00:00Z", offset_s: 3600, short: "CET" }] } };
  same([w.hour(state, "2027-10-31T00:30:00Z", true), w.hour(state, "2027-10-31T01:30:00Z", true), w.hour(state, "")],
    ["02:30 CEST", "02:30 CET", ""]);
  same(w.second(state, Date.parse("2027-10-30T20:00:01Z"), true), "2027-10-30 22:00:01 CEST");
  same(w.day(state, "2027-10-30T22:30:00Z"), "2027-10-31");
  same(w.hoursOf(state), "Times are those of Europe/Vienna. Clocks change at 03:00 to CET.");
});

Deno.test("names in a row, counts and capitals", () => {
  same(w.inOrder(["Capella", "Rigel", "Deneb"]), "Capella, then Rigel, then Deneb");
  same([w.list([]), w.list(["Capella"]), w.list(["Capella", "Rigel", "Deneb"])], ["", "Capella", "Capella, Rigel and Deneb"]);
  same([w.plural(1, "star"), w.plural(2, "star"), w.plural(0, "nebula", "nebulae")], ["1 star", "2 stars", "0 nebulae"]);
  same([w.capital("low in the east"), w.spaced("azimuth_zero"), w.brightness(-1.44), w.brightness(-0.01), w.brightness(null)],
    ["Low in the east", "azimuth zero", "magnitude −1.4", "magnitude 0.0", ""]);
});
