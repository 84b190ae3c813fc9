// @ts-check
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { runInNewContext } from "node:vm";

const SCRIPT = readFileSync(new URL("../../../src/twobowls/web/static/js/worker/seat-worker.js", import.meta.url), "utf8");
const page = (/** @type {string} */ version) => new Response(`<link href="/static/~${version}/css/seat.css">`);
const pathOf = (/** @type {any} */ request) => new URL(request.url ?? request, "http://laptop").pathname;

/** A browser's caches, shared by the versions of the worker. */
function fakeCaches() {
  /** @type {Map<string, Map<string, Response>>} */
  const all = new Map();
  const caches = {
    keys: async () => [...all.keys()],
    delete: async (/** @type {string} */ name) => all.delete(name),
    open: async (/** @type {string} */ name) => {
      const kept = all.get(name) ?? new Map();
      all.set(name, kept);
      return {
        addAll: async (/** @type {string[]} */ paths) => { for (const path of paths) kept.set(path, new Response("")); },
        keys: async () => [...kept.keys()].map((path) => ({ url: `http://laptop${path}` })),
        match: async (/** @type {any} */ request) => kept.get(pathOf(request)),
        put: async (/** @type {string} */ path, /** @type {Response} */ answer) => { kept.set(path, answer); },
        delete: async (/** @type {any} */ request) => kept.delete(pathOf(request)),
      };
    },
  };
  const held = () => Object.fromEntries([...all].map(([name, kept]) => [name, [...kept.keys()]]));
  return { caches, held };
}

/** Install a version of the worker, and let it take over if that went well. @param {any} caches @param {string} version @param {(path: string) => Promise<Response>} fetch */
async function install(caches, version, fetch) {
  /** @type {Record<string, (event: any) => void>} */
  const on = {};
  const files = [`/static/~${version}/css/seat.css`];
  runInNewContext(SCRIPT, {
    KEPT: { version, files }, caches, fetch, URL, Response, Promise, Error, setTimeout, location: { origin: "http://laptop" },
    addEventListener: (/** @type {string} */ name, /** @type {any} */ hear) => { on[name] = hear; },
    skipWaiting: () => {}, clients: { matchAll: async () => [{ url: "http://laptop/seat/ana" }], claim: async () => {} },
  });
  for (const name of ["install", "activate"]) {
    /** @type {Promise<any>} */
    let done = Promise.resolve();
    on[name]({ waitUntil: (/** @type {Promise<any>} */ promise) => { done = promise; } });
    await done;
  }
}

const OLD = { "twobowls-seat-old": ["/static/~old/css/seat.css", "/seat/ana"] };
const NEW = { "twobowls-seat-new": ["/static/~new/css/seat.css", "/seat/ana"] };

test("a new version takes over with the pages that were kept", async () => {
  const { caches, held } = fakeCaches();
  await install(caches, "old", async () => page("old"));
  assert.deepEqual(held(), OLD);
  await install(caches, "new", async () => page("new"));
  assert.deepEqual(held(), NEW);
});

for (const [what, fetch] of /** @type {Array<[string, () => Promise<Response>]>} */ ([
  ["a laptop that goes away", async () => { throw new TypeError("Failed to fetch"); }],
  ["a laptop that is busy", async () => new Response("", { status: 503 })],
  ["a laptop back at the version before", async () => page("old")],
])) {
  test(`${what} while a new version asks for the pages leaves the old one in place with them`, async () => {
    const { caches, held } = fakeCaches();
    await install(caches, "old", async () => page("old"));
    await assert.rejects(install(caches, "new", fetch));
    assert.deepEqual(held()["twobowls-seat-old"], OLD["twobowls-seat-old"]);
    await install(caches, "new", async () => page("new"));
    assert.deepEqual(held(), NEW);
  });
}

test("a page whose seat is no more does not keep a new version away", async () => {
  const { caches, held } = fakeCaches();
  await install(caches, "old", async () => page("old"));
  await install(caches, "new", async () => new Response("", { status: 404 }));
  assert.deepEqual(held(), { "twobowls-seat-new": ["/static/~new/css/seat.css"] });
});
