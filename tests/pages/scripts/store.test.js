import { near, same } from "./ground.js";

const kept = new Map();
Object.defineProperty(globalThis, "localStorage", { configurable: true, value: {
  getItem: (key) => kept.get(key) ?? null,
  setItem: (key, value) => { if (key === "full") throw new Error("full"); kept.set(key, value); },
} });
globalThis.location = { reload() {} };
const asked = [];
let answer = { status: 200, body: {} };
globalThis.fetch = async (path, how) => {
  asked.push([path, how && how.body ? JSON.parse(how.body) : null]);
  if (answer === null) throw new TypeError("no network");
  const { status, body } = answer;
  return { ok: status < 400, status, json: async () => body };
};
const { act, ago, discard, get, keep, load, record, store, told, tryAgain } = await import("./store.js");
const settle = () => new Promise((done) => setTimeout(done, 20));
const timers = { sanitizeOps: false, sanitizeResources: false };

Deno.test("what a phone keeps, and what it cannot", () => {
  same(keep("a", [1]), true);
  same(load("a", null), [1]);
  same(load("nothing", 7), 7);
  kept.set("broken", "{");
  same(load("broken", 7), 7);
  same(keep("full", 1), false);
});

Deno.test("an instant is measured by the steady clock, unless the phone slept or the page is new", () => {
  const now = performance.now();
  const at = (mono, wall, origin = performance.timeOrigin) => ({ mono: now - mono, wall: Date.now() - wall, origin });
  near(ago(at(500, 520)), 500, 100);
  near(ago(at(500, 9000)), 9000, 100);
  near(ago(at(500, 700, 1)), 700, 100);
  same(ago(at(500, -9000, 1)), 0);
});

Deno.test("a refusal is sentences", () => {
  same(told({ error: "No code was sent", remedy: "Type the code." }), "No code was sent. Type the code.");
  same(told({}), "");
});

Deno.test("an action that is refused says why; without an answer it says that", timers, async () => {
  answer = { status: 400, body: { error: "There is nothing to undo", remedy: "Nothing was changed" } };
  same(await act("undo"), null);
  same(store.outcome, { text: "There is nothing to undo. Nothing was changed.", bad: true });
  answer = null;
  same(await act("undo"), null);
  same(store.outcome.text.startsWith("Not done: no answer"), true);
});

Deno.test("an answer comes as it is, a refusal is thrown", timers, async () => {
  answer = { status: 200, body: { objects: [] } };
  same(await get("/data/own", "?q=1"), { objects: [] });
  same(asked.at(-1)[0], "/data/own?q=1");
  answer = { status: 400, body: { error: "No", remedy: "Go" } };
  same(await get("/data/own").catch((e) => e.message), "No. Go.");
});

Deno.test("a tap is kept until it is saved, under one name, and names its target", timers, async () => {
  answer = null;
  const at = { mono: performance.now(), origin: performance.timeOrigin, wall: Date.now() };
  const id = record("here_centred", {}, at, "M 42", "M42");
  await settle();
  same(store.queue.map((q) => q.id), [id]);
  same(JSON.parse(kept.get("plumbstar.unsaved"))[0].id, id);
  answer = { status: 200, body: { ok: true } };
  tryAgain(id);
  await settle();
  same(store.queue, []);
  const [path, body] = asked.at(-1);
  same([path, body.id, body.target], ["/do/here_centred", id, "M42"]);
});

Deno.test("a tap that is refused stays with its reason, and can be thrown away", timers, async () => {
  answer = { status: 400, body: { error: "Stale", remedy: "Sight it again" } };
  const at = { mono: performance.now(), origin: performance.timeOrigin, wall: Date.now() };
  const id = record("sight", { star: "Capella" }, at, "Capella");
  await settle();
  same(store.queue[0].error, "Stale. Sight it again.");
  discard(id);
  same(store.queue, []);
});

Deno.test("an encoder's reading of before the server's limit is not asked for", timers, async () => {
  answer = { status: 200, body: { ok: true } };
  const before = asked.length;
  store.state = /** @type {any} */ ({ kit: { presses_kept_s: 120 } }); // as the server says
  const id = record("sight", { star: "Capella" }, { mono: 0, origin: 1, wall: Date.now() - 121_000 }, "Capella");
  await settle();
  same(store.queue[0].error.startsWith("More than 2 minutes"), true);
  same(asked.length, before);
  discard(id);
  store.state = null;
});

Deno.test("a tap is sent as long as the server can use it, and no longer", timers, async () => {
  answer = { status: 200, body: { ok: true, sighting_id: 7 } };
  for (const [kept, ago, sent] of [[600, 599, true], [600, 601, false], [43_200, 43_100, true], [43_200, 43_201, false]]) {
    store.state = /** @type {any} */ ({ kit: { presses_kept_s: kept } });
    for (const reading of [undefined, { az_deg: 1, alt_deg: 2 }]) {
      const before = asked.length;
      const at = { mono: 0, origin: 1, wall: Date.now() - 1000 * Number(ago) };
      const id = record("sight", /** @type {any} */ ({ star: "Capella", reading }), at, "Capella");
      await settle();
      same(asked.length > before, sent);
      discard(id);
    }
  }
  store.state = null;
});
