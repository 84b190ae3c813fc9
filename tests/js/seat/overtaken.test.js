// @ts-check
// Answers that come late, twice or the wrong way round, and what was asked while another was on its way.
import assert from "node:assert/strict";
import { afterEach, mock, test } from "node:test";
import { fakePhone, MARK, settled, table } from "./fake-phone.js";

afterEach(() => mock.timers.reset());

const LATE = "This tasting has closed; no more marks are taken.";
const saving = (/** @type {any} */ { ids }) => ({ saved: ids, refused: [], now_ms: 9000000 });
const refusing = (/** @type {any} */ { ids }) => ({ saved: [], refused: ids.map((/** @type {string} */ id) => ({ id, error: LATE })), now_ms: 9000000 });

/** A seat whose one mark is on its way to the laptop. */
async function marked(more = {}) {
  const phone = fakePhone();
  const session = await phone.open(more);
  session.record(/** @type {any} */ (MARK));
  await settled();
  const [posted] = phone.sent();
  return { phone, session, posted, id: posted.ids[0] };
}

test("a refusal that is heard after the host has opened the tasting again is not the last word", async () => {
  const { phone, session, posted, id } = await marked();
  phone.say({ version: 5, state: "closed" });
  phone.say({ version: 6, state: "open" });
  posted.answer(refusing(posted));
  await settled();
  assert.deepEqual(phone.sent().map(({ ids }) => ids), [[id], [id]]);
  phone.sent()[1].answer(saving(posted));
  await settled();
  assert.deepEqual([session.store.saved.waiting, session.store.saved.refused], [0, []]);
});

test("a refusal for a closing that was never heard is not the last word either", async () => {
  const { phone, posted, id } = await marked();
  posted.answer(refusing(posted));
  await settled();
  assert.equal(phone.sent().length, 1, "nothing is known to have changed");
  phone.say({ version: 6, state: "open" });
  await settled();
  assert.deepEqual(phone.sent()[1].ids, [id]);
});

test("what came before the opening is sent once more when the host opens the tasting", async () => {
  const { phone, posted, id } = await marked({ tasting: { name: "T", state: "planned" } });
  posted.answer(refusing(posted));
  await settled();
  phone.say({ version: 5, state: "open" });
  await settled();
  assert.deepEqual(phone.sent()[1].ids, [id]);
});

test("what is refused in an open tasting is sent once for each state of it, not without end", async () => {
  const { phone, session, posted } = await marked();
  phone.say({ version: 5, state: "open" });
  posted.answer(refusing(posted));
  await settled();
  for (const version of [5, 5, 6]) {
    phone.sent().at(-1).answer(refusing(posted));
    phone.say({ version, state: "open" });
    await settled();
  }
  assert.equal(phone.sent().length, 3);
  phone.sent()[2].answer(refusing(posted));
  await settled();
  assert.equal(session.store.saved.refused.length, 1);
});

test("what was let go is not missed on the laptop, and does not come back", async () => {
  const { phone, session, posted, id } = await marked();
  posted.answer(refusing(posted));
  await settled();
  session.dismiss([id]);
  phone.show(); // the table is read at that very moment
  phone.read().at(-1).answer(table());
  await settled();
  assert.equal(phone.sent().length, 1);
  assert.deepEqual([session.store.records, session.store.saved.refused], [[], []]);
});

test("what is tried again, or saved since, is not let go by an old list of refusals", async () => {
  const { phone, session, posted, id } = await marked();
  posted.answer(refusing(posted));
  await settled();
  phone.say({ version: 6, state: "open" });
  await settled();
  session.dismiss([id]);
  phone.sent()[1].answer(saving(posted));
  await settled();
  session.dismiss([id]);
  assert.deepEqual(session.store.records.map((record) => record.id), [id]);
});

test("an answer that lay on the phone while it was put aside is asked for again", async () => {
  const phone = fakePhone();
  const session = await phone.open();
  phone.show();
  assert.equal(phone.read().length, 2);
  phone.hide();
  phone.show();
  phone.read()[1].answer(table());
  await settled();
  assert.equal(phone.read().length, 3);
  phone.read()[2].answer(table({ version: 5, tasting: { name: "T", state: "closed" } }));
  await settled();
  assert.equal(session.store.table?.tasting.state, "closed");
  assert.equal(phone.read().length, 3);
});

test("a phone that wakes while a try is on its way tries again soon after it fails", async () => {
  const { phone, session, posted } = await marked();
  posted.fail();
  phone.show();
  for (let failed = 0; failed < 6; failed += 1) {
    await settled();
    phone.sent().at(-1).fail();
    phone.read().at(-1).fail();
    await settled();
    await phone.pass(40000); // longer than the longest wait
  }
  const tries = [phone.sent().length, phone.read().length];
  phone.show();
  phone.sent().at(-1).fail();
  phone.read().at(-1).fail();
  await settled();
  await phone.pass(1500);
  assert.deepEqual([phone.sent().length, phone.read().length], tries.map((count) => count + 1));
  assert.equal(session.store.saved.waiting, 1);
});

test("what another tab has sent shows that the laptop is within reach", async () => {
  const { phone, session, posted, id } = await marked();
  posted.fail();
  await settled();
  assert.deepEqual([session.store.saved.reachable, session.store.saved.waiting], [false, 1]);
  phone.tell({ settled: [id] });
  await settled();
  assert.deepEqual([session.store.saved.reachable, session.store.saved.waiting], [true, 0]);
});
