// @ts-check
// Two devices on one seat: each reads what the other has recorded, and neither its own once more.
import assert from "node:assert/strict";
import { afterEach, mock, test } from "node:test";
import { Arrivals } from "../../../src/twobowls/web/static/js/seat/arrivals.js";
import { fakePhone, MARK, settled, table } from "./fake-phone.js";

const OTHER = { ...MARK, id: "b".repeat(32), at_ms: 8999000, intensity: 77 };
const known = (/** @type {string[]} */ ...ids) => (/** @type {string} */ id) => ids.includes(id);

test("a batch of one's own is no news, another's is", () => {
  const arrivals = new Arrivals();
  arrivals.read(3);
  assert.equal(arrivals.hear({ arrivals: 4, ids: ["mine"] }, known("mine")), false);
  assert.equal(arrivals.hear({ arrivals: 5, ids: ["theirs"] }, known("mine")), true);
  arrivals.read(5);
  assert.equal(arrivals.hear({ arrivals: 5, ids: ["theirs"] }, known()), false, "it has been read since");
});

test("a batch that one's own has hidden is read; so is one whose ids are not told", () => {
  const arrivals = new Arrivals();
  arrivals.read(3);
  assert.equal(arrivals.hear({ arrivals: 5, ids: ["mine"] }, known("mine")), true);
  arrivals.read(5);
  assert.equal(arrivals.hear({ arrivals: 6, ids: [] }, known("mine")), true);
});

test("an answer holds what was heard of since it was asked for; a laptop started anew begins again", () => {
  const arrivals = new Arrivals();
  arrivals.asked();
  assert.equal(arrivals.holds(0), true);
  arrivals.hear({ arrivals: 7, ids: [] }, known());
  assert.equal(arrivals.holds(6), false);
  arrivals.asked();
  assert.equal(arrivals.holds(1), true);
});

afterEach(() => mock.timers.reset());

test("what another device records is read and shown, and never sent back", async () => {
  const phone = fakePhone();
  const session = await phone.open();
  const reads = phone.read().length;
  phone.arrive({ arrivals: 1, ids: [OTHER.id] });
  await settled();
  assert.equal(phone.read().length, reads + 1);
  phone.read().at(-1).answer(table({ records: [OTHER], arrivals: 1 }));
  await settled();
  assert.deepEqual(session.store.records.map(({ id }) => id), [OTHER.id]);
  phone.arrive({ arrivals: 1, ids: [OTHER.id] });
  await settled();
  assert.deepEqual([phone.read().length, phone.sent().length], [reads + 1, 0]);
});

test("one's own batch is not read again", async () => {
  const phone = fakePhone();
  const session = await phone.open();
  const reads = phone.read().length;
  session.record(/** @type {any} */ (MARK));
  await settled();
  const [posted] = phone.sent();
  phone.arrive({ arrivals: 1, ids: posted.ids });
  posted.answer({ saved: posted.ids, refused: [], now_ms: 9000000 });
  await settled();
  assert.deepEqual([phone.read().length, phone.sent().length], [reads, 1]);
});

test("what comes in while the table is on its way is asked for again", async () => {
  const phone = fakePhone();
  const session = await phone.open();
  phone.show();
  const reads = phone.read().length;
  phone.arrive({ arrivals: 2, ids: [OTHER.id] });
  phone.read().at(-1).answer(table({ arrivals: 1 }));
  await settled();
  assert.equal(phone.read().length, reads + 1);
  phone.read().at(-1).answer(table({ records: [OTHER], arrivals: 2 }));
  await settled();
  assert.equal(session.store.records.length, 1);
});
