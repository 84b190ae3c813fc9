// @ts-check
import assert from "node:assert/strict";
import { mock, test } from "node:test";
import { ApiError, makeApi, troubleOf } from "../../../src/twobowls/web/static/js/seat/api.js";
import { makeId } from "../../../src/twobowls/web/static/js/seat/ids.js";
import { openJournal } from "../../../src/twobowls/web/static/js/seat/journal.js";
import { Outbox } from "../../../src/twobowls/web/static/js/seat/outbox.js";
import { Sender } from "../../../src/twobowls/web/static/js/seat/sender.js";
import { inLocalStorage, inMemory } from "../../../src/twobowls/web/static/js/seat/storage.js";

const mark = (/** @type {number} */ at_ms) => ({ kind: /** @type {const} */ ("mark"), id: makeId(), bowl: "417", sensation: "body", round: "hot", intensity: 1, liking: 2, at_ms });

/** localStorage as browsers have it. */
function localShelf() {
  /** @type {Map<string, string>} */
  const kept = new Map();
  return /** @type {any} */ ({
    get length() { return kept.size; },
    key: (/** @type {number} */ place) => [...kept.keys()][place] ?? null,
    getItem: (/** @type {string} */ name) => kept.get(name) ?? null,
    setItem: (/** @type {string} */ name, /** @type {string} */ value) => kept.set(name, value),
    removeItem: (/** @type {string} */ name) => kept.delete(name),
  });
}

/** A laptop that answers as told. */
function table(/** @type {import("../../../src/twobowls/web/static/js/seat/storage.js").Storage} */ storage = inMemory()) {
  const outbox = new Outbox(storage, "seat");
  /** @type {any} */
  const laptop = { answers: [], asked: [], troubles: [] };
  const sender = new Sender({
    outbox,
    send: async (records) => {
      laptop.asked.push(records.map(({ id }) => id));
      const answer = laptop.answers.shift();
      if (answer instanceof Error) throw answer;
      return answer ? answer(records) : { saved: records.map(({ id }) => id), refused: [], now_ms: 1 };
    },
    heard: () => {},
    state: (trouble) => laptop.troubles.push(trouble),
    wait: () => 1000,
  });
  return { outbox, laptop, sender };
}

const turns = async () => { for (let i = 0; i < 20; i += 1) await Promise.resolve(); };

test("ids are 32 hex digits of the browser's own randomness", () => {
  assert.equal(makeId((bytes) => bytes.fill(10)), "0a".repeat(16));
  assert.match(makeId(), /^[0-9a-f]{32}$/);
  assert.notEqual(makeId(), makeId());
});

test("a record is forgotten only once the laptop has said that it is saved", async () => {
  const { outbox, laptop, sender } = table();
  const record = mark(5);
  await outbox.add(record);
  laptop.answers = [() => ({ saved: [], refused: [], now_ms: 1 })];
  mock.timers.enable({ apis: ["setTimeout"] });
  await sender.kick();
  assert.deepEqual(outbox.waiting, [record], "an answer that names nothing confirms nothing");
  mock.timers.tick(1000);
  await turns();
  assert.deepEqual(outbox.waiting, []);
  assert.deepEqual(laptop.asked, [[record.id], [record.id]]);
  mock.timers.reset();
});

test("what could not be sent waits, is tried again, and goes in the order it was made", async () => {
  const { outbox, laptop, sender } = table();
  const [late, early] = [mark(9), mark(3)];
  await outbox.add(late);
  await outbox.add(early);
  laptop.answers = [new ApiError("away", "no")];
  mock.timers.enable({ apis: ["setTimeout"] });
  await sender.kick();
  assert.equal(outbox.waiting.length, 2);
  mock.timers.tick(1000);
  await turns();
  assert.equal(outbox.waiting.length, 0);
  assert.deepEqual(laptop.asked[1], [early.id, late.id]);
  assert.deepEqual(laptop.troubles, ["away", null]);
  mock.timers.reset();
});

test("while the laptop's disk is full everything waits, and goes out when there is room", async () => {
  const { outbox, laptop, sender } = table();
  const record = mark(3);
  await outbox.add(record);
  laptop.answers = [new ApiError("full", "On the laptop, the disk is full."), new ApiError("full", "Still.")];
  mock.timers.enable({ apis: ["setTimeout"] });
  await sender.kick();
  for (const left of [1, 0]) {
    mock.timers.tick(1000);
    await turns();
    assert.equal(outbox.waiting.length, left);
  }
  assert.deepEqual(laptop.asked, [[record.id], [record.id], [record.id]], "the same record each time");
  assert.deepEqual(laptop.troubles, ["full", "full", null]);
  mock.timers.reset();
});

test("refused records are kept with their reason and not sent again", async () => {
  const storage = inMemory();
  const { outbox, laptop, sender } = table(storage);
  const record = mark(1);
  await outbox.add(record);
  laptop.answers = [(/** @type {any[]} */ records) => ({ saved: [], refused: [{ id: records[0].id, error: "This tasting has closed." }], now_ms: 1 })];
  await sender.kick();
  await sender.kick();
  assert.equal(laptop.asked.length, 1);
  assert.deepEqual(outbox.refused, [{ record, error: "This tasting has closed." }]);
  const later = new Outbox(storage, "seat");
  await later.load();
  assert.equal(later.refused.length, 1, "a reload still knows it");
  await later.dismiss([record.id]);
  assert.deepEqual(await storage.all(), []);
});

test("what came too late is sent once more when the host has opened the tasting again", async () => {
  const { outbox, laptop, sender } = table();
  const record = mark(1);
  await outbox.add(record);
  laptop.answers = [(/** @type {any[]} */ records) => ({ saved: [], refused: [{ id: records[0].id, error: "This tasting has closed." }], now_ms: 1 })];
  await sender.kick();
  await outbox.retry();
  assert.deepEqual([outbox.waiting, outbox.refused], [[record], []]);
  await sender.kick();
  assert.deepEqual(outbox.records, []);
});

test("one record that cannot be read spoils no other", async () => {
  const { outbox, laptop, sender } = table();
  const [good, bad, fine] = [mark(1), mark(2), mark(3)];
  for (const record of [good, bad, fine]) await outbox.add(record);
  const judge = (/** @type {any[]} */ records) => {
    if (records.some(({ id }) => id === bad.id)) throw new ApiError("spoilt", "intensity: it is odd.");
    return { saved: records.map(({ id }) => id), refused: [], now_ms: 1 };
  };
  laptop.answers = Array(9).fill(judge);
  await sender.kick();
  assert.deepEqual(outbox.waiting, []);
  assert.deepEqual(outbox.refused, [{ record: bad, error: "intensity: it is odd." }]);
});

test("a new page finds what the last one left, and sends it under the same id", async () => {
  const storage = inLocalStorage("seat", localShelf());
  const first = table(storage);
  const record = mark(1);
  await first.outbox.add(record);
  const second = table(storage);
  await second.outbox.load();
  await second.sender.kick();
  assert.deepEqual(second.laptop.asked, [[record.id]]);
  assert.deepEqual(await storage.all(), []);
});

test("a page that is closed before the database has a record loses nothing", async () => {
  const shelf = localShelf();
  const never = { ...inMemory(), put: () => new Promise(() => {}) };
  const record = mark(1);
  new Outbox(/** @type {any} */ (never), "seat", openJournal("seat", shelf)).add(record);
  const storage = inMemory();
  const next = new Outbox(storage, "seat", openJournal("seat", shelf));
  await next.load();
  assert.deepEqual(next.waiting, [record]);
  assert.equal((await storage.all()).length, 1);
  assert.deepEqual(openJournal("seat", shelf).left(), [], "the database has it now");
});

test("a disk that fails leaves the record in memory, and the page says so", async () => {
  const storage = { ...inMemory(), keeps: /** @type {const} */ ("indexeddb"), put: async () => { throw new Error("full"); } };
  const { outbox } = table(storage);
  await outbox.add(mark(1));
  assert.equal(outbox.waiting.length, 1);
  assert.equal(outbox.keeps, "memory");
});

test("two tabs: one takes over what the other has written down, once", async () => {
  const { outbox } = table();
  const record = mark(1);
  outbox.adopt([record]);
  outbox.adopt([record]);
  assert.deepEqual(outbox.waiting, [record]);
});

/** Storage whose list of entries comes when the test says so, as it was when it was asked for. */
function slowStorage() {
  const storage = inMemory();
  /** @type {Array<() => void>} */
  const lists = [];
  const all = async () => {
    const then = await storage.all();
    await new Promise((resolve) => lists.push(() => resolve(undefined)));
    return then;
  };
  return { storage: { ...storage, all }, lists, kept: storage.all };
}

test("what was saved or let go while the phone was being read does not come back", async () => {
  const { storage, lists, kept } = slowStorage();
  const outbox = new Outbox(storage, "seat");
  const [saved, refused] = [mark(1), mark(2)];
  await outbox.add(saved);
  await outbox.add(refused);
  const loading = outbox.load();
  await turns();
  await outbox.settle([saved.id], [{ id: refused.id, error: "This tasting has closed." }]);
  await outbox.dismiss([refused.id]);
  lists[0]();
  await loading;
  assert.deepEqual([outbox.records, await kept()], [[], []]);
});

test("another tab's word that something was saved may come before this one has read it", async () => {
  const { storage, lists } = slowStorage();
  const record = mark(1);
  await new Outbox(storage, "seat").add(record);
  const outbox = new Outbox(storage, "seat");
  const loading = outbox.load();
  await turns();
  await outbox.settle([record.id], []);
  lists[0]();
  await loading;
  outbox.adopt([record]);
  assert.deepEqual(outbox.waiting, []);
  await outbox.again([record]);
  assert.deepEqual(outbox.waiting, [record], "unless the laptop has lost it since");
});

test("what was saved is not left in the journal of a phone whose database is full", async () => {
  const shelf = localShelf();
  const full = { ...inMemory(), put: async () => { throw new Error("full"); } };
  const outbox = new Outbox(full, "seat", openJournal("seat", shelf));
  const record = mark(1);
  await outbox.add(record);
  await outbox.settle([record.id], []);
  assert.deepEqual(openJournal("seat", shelf).left(), []);
});

test("all refusals of an answer are known at once, and tried again together", async () => {
  const records = [mark(1), mark(2), mark(3)];
  /** @type {Array<() => void>} */
  const puts = [];
  const storage = inMemory();
  const outbox = new Outbox({ ...storage, put: (entry) => new Promise((resolve) => puts.push(() => resolve(storage.put(entry)))) }, "seat");
  outbox.adopt(records);
  const settling = outbox.settle([], records.map(({ id }) => ({ id, error: "This tasting has closed." })));
  assert.equal(outbox.refused.length, 3);
  const retrying = outbox.retry();
  assert.deepEqual(outbox.waiting, records);
  for (const done of puts) done();
  await Promise.all([settling, retrying]);
  assert.deepEqual((await storage.all()).map(({ error }) => error), [null, null, null]);
});

test("failures have four kinds", () => {
  assert.deepEqual([404, 502, 503, 429, 400, 413].map(troubleOf), ["unknown", "away", "full", "away", "spoilt", "spoilt"]);
  assert.deepEqual([403, 405, 421].map(troubleOf), ["away", "away", "away"], "no word on the seat or its marks");
});

test("a request that takes too long, or an answer that is no JSON, counts as away", async () => {
  const never = makeApi("k", { limit: 5, fetch: /** @type {any} */ ((/** @type {string} */ _url, /** @type {RequestInit} */ { signal }) =>
    new Promise((_resolve, reject) => signal?.addEventListener("abort", () => reject(new Error("aborted"))))) });
  await assert.rejects(never.table(), { trouble: "away", message: "The laptop cannot be reached." });
  const garbled = makeApi("k", { fetch: /** @type {any} */ (async () => new Response("<html>")) });
  await assert.rejects(garbled.table(), { trouble: "away" });
});

test("the laptop's own reason reaches the taster", async () => {
  const api = makeApi("a/b", { fetch: /** @type {any} */ (async (/** @type {string} */ url) =>
    new Response(JSON.stringify({ error: { field: "records", message: `no, ${url}` } }), { status: 400 })) });
  await assert.rejects(api.send([]), { trouble: "spoilt", message: "no, /api/seats/a%2Fb/records" });
});

test("an answer that is not the laptop's says nothing of the marks", async () => {
  // another device has the laptop's old address, or the Wi-Fi asks for a password first
  for (const status of [400, 404, 405, 501, 503]) {
    const stranger = makeApi("k", { fetch: /** @type {any} */ (async () => new Response("<html>", { status })) });
    await assert.rejects(stranger.send([]), { trouble: "away" }, String(status));
  }
});
