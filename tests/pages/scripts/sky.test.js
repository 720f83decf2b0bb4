import { near, same, sure } from "./ground.js";
import { facingWords, skyMap } from "./sky.js";

const COMPASS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
const nothing = { cells: [], stars: [], skyline_deg: [], moon: { az_deg: 0, alt_deg: -5 }, sun: { az_deg: 0, alt_deg: -30 }, sightings: [], chosen: [], figures: [], words: "said" };
const where = (map, cls) => map.node.all("circle", cls).map((c) => [c.getAttribute("cx"), c.getAttribute("cy")].map(Number));

Deno.test("overhead in the middle, north at the bottom of the wheel, east to the right of it", () => {
  const map = skyMap();
  const sighting = (az_deg, alt_deg) => ({ star: "", az_deg, alt_deg });
  map.draw({ ...nothing, sightings: [sighting(0, 90), sighting(0, 0), sighting(90, 0), sighting(180, 45)] });
  same(where(map, "sighted"), [[0, 0], [0, 150], [150, 0], [0, -75]]);
});

Deno.test("what is faced lies at the bottom", () => {
  const map = skyMap();
  map.draw(nothing);
  map.turnTo(-90);
  same(map.node.all("g")[0].getAttribute("transform"), "rotate(270.0)");
  const west = map.node.all("text", "point").find((t) => t.words === "W");
  near(Number(west.getAttribute("x")), 0, 0.1);
  sure(Number(west.getAttribute("y")) > 150);
});

Deno.test("a dot is broad as the chance is small; none where it is good", () => {
  const map = skyMap();
  const cell = (hit_chance) => ({ az_deg: 10, alt_deg: 40, d_az_deg: 10, d_alt_deg: 9, hit_chance });
  map.draw({ ...nothing, cells: [cell(1), cell(0.91), cell(0.5), cell(0)] });
  const dots = map.node.all("g", "dots")[0].all("circle").map((c) => Number(c.getAttribute("r")));
  same(dots.length, 2);
  near(dots[0] / dots[1], 0.5, 0.01);
});

Deno.test("figures are lines from star to star, with their name; a chosen star's name comes before all", () => {
  const map = skyMap();
  const star = { name: "Polaris", az_deg: 0, alt_deg: 47, v_mag: 2 };
  map.draw({ ...nothing, chosen: [star], figures: [{ name: "the W", lines_deg: [[90, 45, 90, 0], [90, 0, 100, 0]] }] });
  const lines = map.node.all("line", "figure-line");
  same(lines.length, 2);
  same(["x1", "y1", "x2", "y2"].map((k) => Number(lines[0].getAttribute(k))), [75, 0, 150, 0]);
  const names = map.node.all("text").map((t) => t.words);
  same(names[0], "Polaris");
  same(names[names.length - 1], "the W");
  same(where(map, "chosen").length, 1);
});

Deno.test("Sun and Moon below the horizon are not drawn; the sentence is the one sent", () => {
  const map = skyMap();
  map.draw({ ...nothing, moon: { az_deg: 90, alt_deg: 20 } });
  same(map.node.all("circle", "body").length, 1);
  same(map.node.getAttribute("aria-label"), "said");
});

Deno.test("facing, in words", () => {
  same(facingWords({ compass: COMPASS }, 181.2), "Facing south, 181°");
});
