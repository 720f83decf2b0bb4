import { same } from "./ground.js";
import { plausible } from "./zone.js";

Deno.test("a clock is that of a place within three and a half hours of its Sun, across the date line too", () => {
  same(plausible(60, 11.6), true); // an hour ahead, at 11.6 east
  same(plausible(-420, -105), true);
  same(plausible(480, 80), true); // one zone for a broad country
  same(plausible(540, 11.6), false); // a phone from far away
  same(plausible(-660, 171), true);
  same(plausible(780, -172), true);
});
