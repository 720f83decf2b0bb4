// A sketch by finger: what is drawn is a path, and a tap is a dot.

import { same } from "./ground.js";

Object.defineProperty(globalThis, "localStorage", { configurable: true, value: { getItem: () => null, setItem() {} } });
globalThis.location = { reload() {}, hash: "#find" };
globalThis.addEventListener = () => {};
const { pathOf } = await import("./sketch.js");

Deno.test("strokes are lines from point to point, and a single point is a dot", () => {
  same(pathOf([[[0, 0], [10, -5], [20, 0]], [[7, 8]]]), "M0 0L10 -5L20 0M7 8m-10 0a10 10 0 1 0 20 0a10 10 0 1 0-20 0");
  same(pathOf([]), "");
});
