import { same } from "./ground.js";
import { Ahead } from "./ahead.js";

Deno.test("what the server's clock says is known from the quickest word, and never ahead of it", () => {
  const a = new Ahead();
  same(a.sent(5000), {}); // nothing heard yet
  a.hear(NaN, 100);
  a.hear(0, 100); // an event without a stamp
  same(a.sent(5000), {});
  a.hear(900_000, 1400); // 400 ms under way: this page's clock is 899 s behind the server's
  a.hear(901_000, 2040); // 40 ms
  a.hear(902_000, 3700);
  same(a.sent(4000), { "X-Plumbstar-Sent": "902960" }); // true: 903000
});

Deno.test("two clocks that drift apart are compared anew", () => {
  const a = new Ahead();
  for (let s = 0; s <= 3600; s += 1) a.hear(1000 + s * 1000, 500 + s * 1000.05 + 30); // 180 ms in the hour
  const sent = Number(a.sent(500 + 3600 * 1000.05)["X-Plumbstar-Sent"]);
  if (sent > 3_601_000 || sent < 3_601_000 - 34) throw new Error(`${sent}`);
});
