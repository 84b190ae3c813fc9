// @ts-check
// The phone goes on with the table, but never under a finger and never over an unfinished round.
import assert from "node:assert/strict";
import { afterEach, beforeEach, mock, test } from "node:test";
import { followIn, followRounds, LEFT_MS } from "../../../src/twobowls/web/static/js/seat/following.js";
import { SeatStore } from "../../../src/twobowls/web/static/js/seat/store.js";
import { backWords } from "../../../src/twobowls/web/static/js/seat/wording.js";

const now = { called: "warm", viewed: "hot", stays: null, held: false, complete: false, quiet_ms: 0 };

test("a complete round is left at once, an unfinished one when nobody has touched it for ten seconds", () => {
  assert.equal(LEFT_MS, 10000);
  assert.equal(followIn({ ...now, complete: true }), 0);
  assert.equal(followIn(now), 10000);
  assert.equal(followIn({ ...now, quiet_ms: 7000 }), 3000);
  assert.equal(followIn({ ...now, quiet_ms: 60000 }), 0);
});

test("never under a finger, and never where there is nowhere to go", () => {
  assert.equal(followIn({ ...now, complete: true, held: true }), null);
  assert.equal(followIn({ ...now, quiet_ms: 60000, held: true }), null);
  assert.equal(followIn({ ...now, called: "hot", complete: true }), null);
  assert.equal(followIn({ ...now, called: null, complete: true }), null);
});

test("whoever went back on purpose stays until another round is called", () => {
  assert.equal(followIn({ ...now, stays: "warm", complete: true, quiet_ms: 60000 }), null);
  assert.equal(followIn({ ...now, called: "cool", stays: "warm", complete: true }), 0);
});

test("going back says where marks go", () => {
  assert.equal(backWords("Hot", "Warm"), "Marks now go to the round “Hot” again. The table is at Warm.");
});

let clock = 0;
const ROUNDS = ["hot", "warm", "cool"].map((key) => ({ key, name: key, kind: "taste", target_c: 60 }));

/** A page at the round Hot, with one bowl and one pad; marks are laid by hand. */
function page() {
  const store = new SeatStore();
  store.setTable(/** @type {any} */ ({
    tasting: { name: "T", state: "open" }, version: 1, round: "hot", rounds: ROUNDS, sensations: [{ key: "body", name: "Body", kind: "taste" }],
    flights: [["417"]], bowls: { 417: { poured_at_ms: null } }, records: [],
  }));
  const hands = new EventTarget();
  /** @type {string[]} */
  const left = [];
  followRounds(/** @type {any} */ ({ store, look: (/** @type {any} */ view) => store.look(view) }), (from) => left.push(from), hands, () => clock);
  return {
    store, left,
    touch: (/** @type {string} */ name, pointerId = 1) => hands.dispatchEvent(Object.assign(new Event(name), { pointerId })),
    call: (/** @type {string} */ round, version = 2) => store.hear(/** @type {any} */ ({ version, state: "open", round, poured: {}, now_ms: 1 })),
    mark: (round = "hot") => store.addRecords([/** @type {any} */ ({ kind: "mark", id: round, bowl: "417", sensation: "body", round, intensity: 1, liking: 2, at_ms: 5 })]),
    pass: (/** @type {number} */ ms) => { clock += ms; mock.timers.tick(ms); },
  };
}

beforeEach(() => { clock = 0; mock.timers.enable({ apis: ["setTimeout"] }); });
afterEach(() => mock.timers.reset());

test("a finished round goes on with the table, and an unfinished one when it is finished", () => {
  const { store, left, call, mark, pass } = page();
  call("warm");
  pass(5000);
  assert.equal(store.view.round, "hot");
  mark();
  pass(0);
  assert.equal(store.view.round, "warm");
  mark("warm");
  call("cool", 3);
  pass(0);
  assert.equal(store.view.round, "cool");
  assert.deepEqual(left, ["hot", "warm"]);
});

test("ten seconds count from the last touch, and from the call if that is later", () => {
  const { store, call, touch, pass } = page();
  pass(60000);
  call("warm");
  pass(9000);
  touch("pointerdown");
  touch("pointerup");
  pass(9000);
  assert.equal(store.view.round, "hot");
  pass(1000);
  assert.equal(store.view.round, "warm");
});

test("a finger that stays down holds the round, however complete and however long", () => {
  const { store, call, mark, touch, pass } = page();
  touch("pointerdown");
  touch("pointerdown", 2);
  mark();
  call("warm");
  pass(60000);
  touch("pointerup", 2);
  pass(60000);
  assert.equal(store.view.round, "hot");
  touch("pointercancel");
  pass(0);
  assert.equal(store.view.round, "warm");
});

test("after going back by hand the page stays, over more news too, until another round is called", () => {
  const { store, call, mark, pass } = page();
  mark();
  call("warm");
  pass(0);
  store.look({ round: "hot" });
  assert.equal(store.view.stays, "warm");
  pass(60000);
  call("warm", 3);
  pass(60000);
  assert.equal(store.view.round, "hot");
  call("cool", 4);
  pass(0);
  assert.equal(store.view.round, "cool");
});

test("going on by hand is going on", () => {
  const { store, call } = page();
  call("warm");
  store.look({ round: "hot" });
  store.look({ round: "warm" });
  assert.equal(store.view.stays, null);
});
