// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { formerSeats, isSameTaster } from "../../../src/twobowls/web/static/js/seat/former.js";
import { makeId } from "../../../src/twobowls/web/static/js/seat/ids.js";
import { openJournal } from "../../../src/twobowls/web/static/js/seat/journal.js";
import { openMemory } from "../../../src/twobowls/web/static/js/seat/memory.js";
import { Outbox } from "../../../src/twobowls/web/static/js/seat/outbox.js";
import { LONG_MS, prune } from "../../../src/twobowls/web/static/js/seat/prune.js";
import { missingFrom } from "../../../src/twobowls/web/static/js/seat/records.js";
import { inLocalStorage, inMemory } from "../../../src/twobowls/web/static/js/seat/storage.js";

const mark = (/** @type {number} */ at_ms) => ({ kind: /** @type {const} */ ("mark"), id: makeId(), bowl: "417", sensation: "body", round: "hot", intensity: 1, liking: 2, at_ms });

/** localStorage as browsers have it. */
function shelf() {
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

/** @returns {any} */
const table = (nickname = "Ana", codes = [["417", "862"], ["305"]], records = /** @type {any[]} */ ([])) =>
  ({ tasting: { name: "Evening", state: "open" }, seat: { id: "s", number: 1, nickname }, flights: codes, records });

test("what the laptop had confirmed and does not hold is found", () => {
  const [a, b, c] = [mark(1), mark(2), mark(3)];
  assert.deepEqual(missingFrom([a, b, c], [c, a]), [b]);
  assert.deepEqual(missingFrom([a, b], [b, a, c]), [], "what only the laptop has is no loss");
});

test("records that were lost wait once more, and survive a reload", async () => {
  const storage = inMemory();
  const outbox = new Outbox(storage, "seat");
  const [lost, waiting] = [mark(1), mark(2)];
  await outbox.add(waiting);
  await outbox.again([lost, waiting]);
  assert.deepEqual(outbox.waiting, [lost, waiting]);
  const later = new Outbox(storage, "seat");
  await later.load();
  assert.equal(later.waiting.length, 2);
});

test("a refused record is not sent again because it is missing", async () => {
  const outbox = new Outbox(inMemory(), "seat");
  const record = mark(1);
  await outbox.add(record);
  await outbox.settle([], [{ id: record.id, error: "This tasting has closed." }]);
  await outbox.again([record]);
  assert.deepEqual(outbox.waiting, []);
});

test("the same table and name, in whatever order the bowls come, is the same taster", () => {
  assert.ok(isSameTaster(table(" ana"), table("Ana", [["305", "862"], ["417"]])));
  assert.ok(!isSameTaster(table("Ben"), table("Ana")), "two people may share a phone");
  assert.ok(!isSameTaster(table("Ana", [["417", "862"]]), table("Ana")), "another evening");
  assert.ok(!isSameTaster({ ...table(), tasting: { name: "Morning", state: "open" } }, table()));
});

test("a former seat's records go along, but only where the laptop has lost that seat", async () => {
  const local = shelf();
  const [saved, waiting] = [mark(1), mark(2)];
  const before = inLocalStorage("former", local);
  await before.remember(table("Ana", undefined, [saved]));
  await before.put({ seat: "former", id: waiting.id, record: waiting, error: null });
  await inLocalStorage("friend", local).remember(table("Ben", undefined, [mark(9)]));
  const now = inLocalStorage("new", local);
  await now.remember(table());
  assert.deepEqual(await formerSeats(now, table(), async () => false), [], "that seat is still there");
  const found = await formerSeats(now, table(), async () => true);
  assert.deepEqual(found, [{ seat: "former", records: [saved, waiting] }]);
  await now.forget("former");
  assert.deepEqual(await formerSeats(now, table(), async () => true), []);
  assert.deepEqual(await before.all(), []);
  assert.equal((await now.others()).length, 1, "the friend's are left alone");
});

test("a table that is long over goes, and nothing with it that was not sent", async () => {
  const local = shelf();
  const now = 2 * LONG_MS;
  const seats = { done: 0, fresh: now - LONG_MS, waiting: 0, journal: 0, typing: 0 };
  for (const [seat, now_ms] of Object.entries(seats)) await inLocalStorage(seat, local).remember(/** @type {any} */ ({ ...table(), now_ms }));
  const left = mark(1);
  await inLocalStorage("waiting", local).put({ seat: "waiting", id: left.id, record: left, error: "This tasting has closed." });
  openJournal("journal", local).keep(left);
  openMemory("typing", local).keepDrafts({ 417: "half typ" });
  openMemory("done", local).keepView(/** @type {any} */ ({ mode: "pad", welcomed: true }));
  const storage = inLocalStorage("new", local);
  await prune(storage, now, local);
  assert.deepEqual((await storage.others()).map(({ seat }) => seat).sort(), ["fresh", "journal", "typing", "waiting"]);
  assert.deepEqual([...Array(local.length).keys()].filter((place) => local.key(place).includes("done")), []);
  assert.equal((await inLocalStorage("waiting", local).all()).length, 1);
});

test("what the journal has of a former seat goes along too", async () => {
  const local = shelf();
  const left = mark(1);
  await inLocalStorage("former", local).remember(table());
  openJournal("former", local).keep(left);
  const found = await formerSeats(inLocalStorage("new", local), table(), async () => true, local);
  assert.deepEqual(found, [{ seat: "former", records: [left] }]);
});

test("a database that cannot be read does not hide what the journal has", async () => {
  const local = shelf();
  const left = mark(1);
  openJournal("seat", local).keep(left);
  const storage = { ...inMemory(), all: async () => { throw new Error("a disk error"); } };
  const outbox = new Outbox(storage, "seat", openJournal("seat", local));
  await outbox.load();
  assert.deepEqual(outbox.waiting, [left]);
});
