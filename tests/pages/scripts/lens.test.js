import { same } from "./ground.js";
import { lensMm } from "./lens.js";

/** A JPEG's beginning with an Exif part: entries are [tag, kind, value], little or big end first. */
function file(entries, little, after = []) {
  const out = [];
  const two = (v) => (little ? [v & 255, v >> 8] : [v >> 8, v & 255]);
  const four = (v) => (little ? [...two(v & 65535), ...two(v >>> 16)] : [...two(v >>> 16), ...two(v & 65535)]);
  const held = (kind, v) => (kind === 3 ? [...two(v), 0, 0] : four(v));
  out.push(...(little ? [0x49, 0x49] : [0x4d, 0x4d]), ...two(42), ...four(8));
  out.push(...two(1), ...two(0x8769), ...two(4), ...four(1), ...four(26), ...four(0));
  out.push(...two(entries.length));
  for (const [tag, kind, v] of entries) out.push(...two(tag), ...two(kind), ...four(1), ...held(kind, v));
  out.push(...four(0));
  for (const v of after) out.push(...four(v));
  const exif = [0x45, 0x78, 0x69, 0x66, 0, 0, ...out];
  const size = exif.length + 2;
  // Another part stands before it, as cameras write one.
  const all = [0xff, 0xd8, 0xff, 0xe0, 0, 4, 1, 2, 0xff, 0xe1, size >> 8, size & 255, ...exif, 0xff, 0xda];
  return new DataView(new Uint8Array(all).buffer);
}
const zoomAt = 26 + 2 + 2 * 12 + 4; // where the two numbers of the zoom stand after two entries

Deno.test("the lens is read whichever end comes first", () => {
  same([true, false].map((little) => lensMm(file([[0xa405, 3, 26]], little))), [26, 26]);
  same(lensMm(file([[0xa405, 4, 77]], true)), 77);
});

Deno.test("a zoomed picture's lens is left aside", () => {
  const zoomed = (over, under) => lensMm(file([[0xa404, 5, zoomAt], [0xa405, 3, 26]], false, [over, under]));
  same([zoomed(2, 1), zoomed(1, 1), zoomed(0, 0)], [null, 26, 26]);
});

Deno.test("what is no lens, no JPEG or cut short tells nothing", () => {
  same([0, 7, 401].map((mm) => lensMm(file([[0xa405, 3, mm]], true))), [null, null, null]);
  same(lensMm(file([[0x9209, 3, 1]], true)), null);
  const whole = new Uint8Array(file([[0xa405, 3, 26]], true).buffer);
  for (let n = 0; n < whole.length - 8; n++) same(lensMm(new DataView(whole.buffer.slice(0, n))), null);
  same(lensMm(new DataView(new TextEncoder().encode("\x89PNG and so on").buffer)), null);
});
