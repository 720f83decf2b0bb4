import { same, sure } from "./ground.js";
import { panorama } from "./skyline.js";

const COMPASS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
const state = (points_deg) => ({ compass: COMPASS, skyline: { points_deg } });
const press = (grip, key, shiftKey = false) => grip.listeners.keydown({ key, shiftKey, preventDefault() {} });

function strip(points) {
  const edits = [];
  const p = panorama((now) => edits.push(now));
  p.set(state(points));
  return { p, edits, grips: () => p.node.all("g", "grip") };
}

Deno.test("its points say where they are", () => {
  const { p, grips } = strip([[180, 12.4]]);
  same(grips()[0].getAttribute("aria-valuetext"), "south, azimuth 180, 12 degrees high");
  same(p.node.all("text", "point").map((t) => t.words), [...COMPASS, "north"]);
});

Deno.test("arrows move a point: shifted by five, not below the ground, round through north", () => {
  const { grips, edits } = strip([[359, 3]]);
  press(grips()[0], "ArrowRight", true);
  press(grips()[0], "ArrowDown", true);
  press(grips()[0], "ArrowUp");
  same(edits, [[[4, 3]], [[4, 0]], [[4, 1]]]);
});

Deno.test("a point is taken out, and another put into the widest gap", () => {
  const { p, grips, edits } = strip([[10, 5], [100, 5], [120, 5]]);
  press(grips()[1], "Delete");
  same(edits.at(-1), [[10, 5], [120, 5]]);
  p.add();
  same(edits.at(-1), [[10, 5], [120, 5], [245, 10]]);
});

Deno.test("the ground is the same at both ends, which are north", () => {
  const { p } = strip([[90, 10], [270, 30]]);
  const d = p.node.all("path", "ground")[0].getAttribute("d");
  const ends = [...d.matchAll(/L(?:0\.0|1080\.0),([\d.]+)/g)].map((m) => m[1]);
  same(ends, ["180.0", "180.0"]);
  p.set(state([]));
  sure(p.node.all("path", "ground")[0].getAttribute("d") === "");
});
