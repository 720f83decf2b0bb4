import { same } from "./ground.js";

Object.defineProperty(globalThis, "localStorage", { configurable: true, value: { getItem: () => null, setItem() {} } });
globalThis.location = { reload() {} };
let visits = [];
let status = 200;
globalThis.fetch = async () => ({ ok: status < 400, status, json: async () => status < 400 ? { next: visits[0], visits } : { error: "The clocks disagree" } });
const { store } = await import("./store.js");
const { agenda, following, nextAfter, refresh } = await import("./agenda.js");
const visit = (name, done = false) => ({ name, short: name, target_name: name, done });
const state = (sightings) => ({ site: {}, kit: {}, skyline: null, outing: { id: 1 }, sightings, fix: null, beside: null, server_unix_ms: 0 });

Deno.test("after a find the next object is offered at once, and stays", async () => {
  same(nextAfter("before any order", "M 31"), null);
  visits = [visit("M 1", true), visit("M 31"), visit("M 33"), visit("M 42")];
  store.state = state([]);
  store.silent = false;
  await refresh();
  // No order was known when it was first drawn: nothing is put in under the finger now.
  same(nextAfter("before any order", "M 31"), null);
  same(nextAfter("press-1", "M 31").name, "M 33");
  visits = [visit("M 42"), visit("M 33")];
  store.state = state([1]);
  await refresh();
  same(following().name, "M 42");
  same(nextAfter("press-1", "M 31").name, "M 33");
  same(nextAfter("press-2", "M 33").name, "M 42");
});

Deno.test("while it is asked about the Sun there is no order, and once it is answered at once one again", async () => {
  visits = [visit("M 42")];
  store.state = state([2]);
  await refresh();
  status = 400;
  store.state = { ...state([2]), sun_question: {} };
  await refresh();
  same(following(), null);
  same(agenda().problem, "The clocks disagree.");
  status = 200;
  store.state = state([2]);
  await refresh();
  same(following().name, "M 42");
  same(agenda().problem, "");
});

Deno.test("what was found on an evening is not offered again by an order from before", async () => {
  visits = [visit("M 42"), visit("M 33"), visit("Saturn")];
  store.state = { ...state([{ star: "M 42" }]), beside: { finds: [{ target: "M 33", found: true }, { target: "Saturn", found: false }], answer: "" } };
  await refresh();
  same(nextAfter("press-3", "M 31").name, "Saturn"); // looked for in vain is not found
});
