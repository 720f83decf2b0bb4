import { near, same, sure } from "./ground.js";
import { disc, place, scale, starField, sweepPath } from "./scales.js";

Deno.test("the ruling is odd, runs to its ends and stops there", () => {
  near(place(0, 180), 0);
  near(place(180, 180), 1);
  near(place(-500, 180), -1);
  for (const d of [0.1, 1, 30]) near(place(-d, 180), -place(d, 180));
});

Deno.test("it is even close to the notch, and never turns back", () => {
  near(place(0.02, 90) / place(0.01, 90), 2, 0.001);
  let last = 0;
  for (let d = 0.5; d <= 90; d += 0.5) {
    sure(place(d, 90) > last, `not growing at ${d}`);
    last = place(d, 90);
  }
});

Deno.test("right to go puts the hand left of the notch, up to go below it", () => {
  const across = scale(false, 180, "Azimuth");
  const upright = scale(true, 90, "Altitude");
  const at = (s) => s.node.all("g")[0].getAttribute("transform").match(/-?[\d.]+/g).map(Number);
  across.set(5, false);
  sure(at(across)[0] < 380);
  across.set(0, false);
  near(at(across)[0], 380);
  upright.set(5, false);
  sure(at(upright)[1] > 280);
});

Deno.test("without a reading the hand goes, an old one dims it", () => {
  const s = scale(false, 180, "Azimuth");
  const hand = s.node.all("g")[0];
  s.set(null, false);
  same(hand.getAttribute("class"), "hand gone");
  s.set(1, true);
  same(hand.getAttribute("class"), "hand dim");
});

Deno.test("the patch lies where the target is, at two and a half sigma", () => {
  const d = disc("field");
  d.set({ right_deg: 0.25, up_deg: 0.5 }, { major_deg: 0.2, minor_deg: 0.1, angle_deg: 30 }, 1);
  const patch = d.node.all("ellipse")[0];
  same([patch.getAttribute("rx"), patch.getAttribute("ry")], ["100.0", "50.0"]);
  same(patch.getAttribute("transform"), "translate(50.0 -100.0) rotate(-30.0)");
});

Deno.test("the path's fields are seen, next and later", () => {
  const stops_deg = [[0, 0], [1, 0], [1, 1], [0, 1], [-1, 1], [-1, 0], [-1, -1], [0, -1], [1, -1]];
  const svg = sweepPath({ stops_deg, index: 2 }, 1);
  same(svg.all("circle").map((c) => c.getAttribute("class")),
    ["seen", "seen", "next", "later", "later", "later", "later", "later", "far"]);
  const ys = svg.all("circle").map((c) => Number(c.getAttribute("cy")));
  sure(ys[2] < ys[1], "up is up");
});

Deno.test("the stars round one: right is right, and who is beyond the rim is left out", () => {
  const star = (right_deg, up_deg) => ({ right_deg, up_deg, v_mag: 1 });
  const svg = starField({ radius_deg: 20, stars: [star(10, 0), star(0, 10), star(30, 0)] }, "Capella", [star(-10, 0)]);
  const shown = svg.all("circle", "star").map((c) => [c.getAttribute("cx"), c.getAttribute("cy")].map(Number));
  same(shown, [[50, 0], [0, -50]]);
  same(svg.all("text", "letter").map((t) => t.words), ["A"]);
});
