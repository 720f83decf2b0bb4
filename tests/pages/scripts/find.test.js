// What the Find page says while readings come: "in the field" only where the tube is there.

import { same } from "./ground.js";

const { document } = globalThis;
const nodes = {};
Object.assign(document, {
  // The scripts' live parts look for their places by name; here each is made when it is asked for.
  getElementById: (id) => (nodes[id] ??= Object.assign(document.createElement("p"), { isConnected: true })),
  querySelector: () => null,
  addEventListener() {},
});
Object.defineProperty(globalThis, "localStorage", { configurable: true, value: { getItem: () => null, setItem() {} } });
globalThis.location = { reload() {}, hash: "#find" };
globalThis.addEventListener = () => {};
globalThis.fetch = async () => { throw new TypeError("no network"); }; // nothing here needs an answer
const { store } = await import("./store.js");
const { live, view } = await import("./find.js");
const { ui } = await import("./parts.js");

const FIELD = 1.5;
const target = (more = {}) => ({
  name: "M 31", label: "M 31", kind: "galaxy", constellation: "", v_mag: 3.4, size_arcmin: null, double: "",
  az_deg: 280, alt_deg: 40, where: "west", place: "M31", az_reading_deg: 100, alt_reading_deg: 40, hit_chance: 0.95,
  hit_chance_words: "95 in 100", patch: null, warnings: [], doubt: "", refused: null, way_barred: null, refused_field: false, sweep: null, ...more,
});
const state = (t) => ({
  target: t, sun: null, sun_question: null, fix: { mean_hit_chance: 0.9 }, beside: null, site: null, sightings: [], outing: null, seen: { looks: [], sky: null },
  kit: { connection: "tcp", field_deg: FIELD, eyepiece: "32 mm", eyepieces: [] }, next: { settles: false, do: "find", sentence: "", button: "" },
});
const reading = (rightDeg, upDeg, more = {}) => {
  const apart = Math.hypot(rightDeg, upDeg);
  return {
    az_reading_deg: 100 - rightDeg, alt_reading_deg: 40 - upDeg, state: "live", age_s: 0, slip: false, problem: "", unix_ms: 0,
    push: { az_deg: rightDeg, alt_deg: upDeg, seconds: 1 }, offset: { right_deg: rightDeg, up_deg: upDeg },
    in_field: apart <= FIELD / 2, beep: 1, sun_bars: false, place: "M31", ...more,
  };
};
const classes = (tree) => [tree].flat(Infinity).filter(Boolean).flatMap((n) => [n.props?.class ?? "", ...(n.kids ? classes(n.kids) : [])]);
/** What is told of the field after this reading: the words over it, and whether it is drawn. */
function told(t, r) {
  store.state = state(t);
  store.reading = r;
  live(store.state);
  const words = document.getElementById("field-words").textContent;
  const drawn = classes(view(store.state)).some((c) => c.startsWith("push arrived"));
  same(drawn, words !== "");
  return words;
}

Deno.test("far off it says nothing of the field, there it does, and gone again nothing", () => {
  same(told(target(), reading(12, -3)), "");
  same(told(target(), reading(0.2, 0.1)) !== "", true);
  same(told(target(), reading(0.8, 0)) !== "", true); // a little hold at the edge
  same(told(target(), reading(1.2, 0)), "");
  same(told(target(), reading(0.8, 0)), ""); // and none on the way in
});

Deno.test("an old reading, or none, is nowhere", () => {
  told(target(), reading(0, 0));
  same(told(target(), reading(0, 0, { state: "stale", problem: "nothing is heard" })), "");
  told(target(), reading(0, 0));
  same(told(target(), { ...reading(0, 0), state: "absent", push: null, offset: null, in_field: false, az_reading_deg: null, alt_reading_deg: null }), "");
  told(target(), reading(0, 0));
  store.silent = true; // the link is lost
  same(told(target(), reading(0, 0)), "");
  store.silent = false;
});

Deno.test("while the way may pass the Sun nothing is said", () => {
  told(target(), reading(0, 0));
  same(told(target(), reading(0, 0, { push: null, in_field: false, sun_bars: true })), "");
});

Deno.test("another target is not reached by the last reading of the one before", () => {
  same(told(target(), reading(0, 0)) !== "", true);
  const other = target({ name: "M 33", place: "M33", az_reading_deg: 130, alt_reading_deg: 50 });
  same(told(other, reading(0, 0)), "");
  same(told(other, reading(30, 10, { place: "M33" })), "");
  same(told(other, reading(0.1, 0, { place: "M33" })) !== "", true);
});

Deno.test("the next field of a search is reached when the tube is there, not when it stands on the target", () => {
  const sweep = { index: 1, stops_deg: [[0, 0], [1.4, 0]], found_by: [0.5, 0.8], found_by_words: "80 in 100", az_reading_deg: 101.8, alt_reading_deg: 40 };
  same(told(target(), reading(0, 0)) !== "", true);
  const searched = target({ sweep, place: "M31+1.4000+0.0000" });
  same(told(searched, reading(0, 0)), ""); // the last reading, of the target itself
  const there = (left) => reading(0, 0, { place: searched.place, push: { az_deg: left, alt_deg: 0, seconds: 1 }, in_field: Math.abs(left) * 0.77 <= FIELD / 2 });
  same(told(searched, there(1.8)), "");
  same(told(searched, there(0.1)), "Field 2: look all over it.");
  same(told(searched, there(3)), "");
});

Deno.test("a find that is doubted is followed by the star that tells, as on every page, not by the next object", () => {
  const s = state(target({ doubt: "M 31 contradicts what was centred before it." }));
  s.sightings = [{ id: 7, star: "M 31", set_aside: false }];
  s.next = { settles: false, do: "sight", star: "Rigel", page: "sight", sentence: "One sighting looks wrong.", button: "Sight Rigel" };
  store.reading = reading(0, 0);
  const words = (tree) => [tree].flat(Infinity).filter((n) => n !== null && n !== undefined && n !== false).map((n) => (typeof n === "object" ? `${n.text ?? ""}${words(n.kids ?? [])}` : String(n))).join("|");
  ui.foundFor = "M 31";
  ui.foundPress = "press-1";
  store.saved["press-1"] = 7;
  same(words(view(s)).includes("Sight Rigel"), true);
  s.next = { settles: false, do: "find", sentence: "M 31 is found.", button: "Find another object" };
  same(words(view(s)).includes("Sight Rigel"), false);
});
