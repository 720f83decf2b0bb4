import { same } from "./ground.js";
import { millimetres, tube } from "./lengths.js";

/** @param {[string, string][]} typed */
const each = (typed) => typed.map(([a, f]) => { const t = tube(a, f); return [t.aperture, t.focal]; });

Deno.test("an aperture in inches, however they are written", () => {
  for (const eight of ["8 inch", "8\"", "8in", "8 in.", "8”", "8''", "8-inch", "8 inches", "8", "20.32 cm", "203 mm", "203,2mm"])
    same([eight, tube(eight, "1200").aperture], [eight, 203]);
  same(each([["4½\"", "900"], ["4.5 in", "900"], ["4 1/2 inch", "900"]]).map((t) => t[0]), [114, 114, 114]);
  same(tube("200", "1200"), { aperture: 200, focal: 1200, said: "" });
});

Deno.test("a focal length by its ratio, or in any unit", () => {
  same(each([["200", "f/6"], ["200 mm", "F6"], ["200", "f 6"], ["200", "6"], ["200", "1.2 m"], ["200", "120 cm"], ["8 inch", "48\""], ["8", "48"]]),
    [[200, 1200], [200, 1200], [200, 1200], [200, 1200], [200, 1200], [200, 1200], [203, 1219], [203, 1219]]);
});

Deno.test("both in one field", () => {
  same(each([["200 mm f/6", ""], ["200mm, f6", ""], ["8 inch f/5,9", ""], ["8\" f/6", ""], ["200/1200", ""], ["254 f/4.7", ""]]),
    [[200, 1200], [200, 1200], [203, 1198], [203, 1218], [200, 1200], [254, 1194]]);
  // What stands in the field of its own counts.
  same(each([["200 mm f/6", "1000"]]), [[200, 1000]]);
});

Deno.test("what was understood is said, where it is not what was typed", () => {
  same(tube("8 inch", "f/6").said, "8 inch: 203 mm. f/6: 6 times 203 is 1218 mm.");
  same(tube("8", "1200").said, "8 inch: 203 mm.");
  same(tube("254", "48 in").said, "Focal length, 48 inch: 1219 mm.");
});

Deno.test("what is no length is none", () => {
  same(["eight", "", "8 yards", "f/6", "-8", "0x10"].map((t) => String(tube(t, "1200").aperture)), Array(6).fill("NaN"));
  same(["f/", "long", "", "12 miles"].map((t) => String(tube("200", t).focal)), Array(4).fill("NaN"));
  same(String(tube("", "f/6").focal), "NaN");
});

Deno.test("an eyepiece's focal length is of millimetres unless it says else", () => {
  same(["25", "25mm", "25 mm", "2 inch", "2,5 cm"].map(millimetres), [25, 25, 25, 50.8, 25]);
  same(String(millimetres("wide")), "NaN");
});
