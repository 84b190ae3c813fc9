// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { beginPractice, hintOf, practised, practiceTokens } from "../../../src/twobowls/web/static/js/seat/practice.js";
import { earlierRounds, openRounds, screenOf, sensationsIn } from "../../../src/twobowls/web/static/js/seat/screens.js";
import { SeatStore } from "../../../src/twobowls/web/static/js/seat/store.js";
import { Undo } from "../../../src/twobowls/web/static/js/seat/undo.js";
import { progressWords, recordWords, savedWords } from "../../../src/twobowls/web/static/js/seat/wording.js";

const rounds = [
  { key: "dry", name: "Dry aroma", kind: "aroma", target_c: null },
  { key: "hot", name: "Hot", kind: "taste", target_c: 60 },
  { key: "warm", name: "Warm", kind: "taste", target_c: 48 },
];
const sensations = [{ key: "aroma", name: "Aroma", kind: "aroma" }, { key: "body", name: "Body", kind: "taste" }];
const table = (/** @type {any} */ more = {}) => /** @type {any} */ ({
  tasting: { name: "T", state: "open" }, seat: { id: "s", number: 1, nickname: "Ana" }, version: 1, round: "hot", rounds, sensations,
  flights: [["417", "862"], ["305"]], bowls: { 417: { poured_at_ms: null } }, records: [], ...more,
});

test("the screen follows the tasting", () => {
  const seen = { welcomed: true, unknown: false };
  assert.equal(screenOf(null, seen), "loading");
  assert.equal(screenOf(null, { ...seen, unknown: true }), "unknown");
  assert.equal(screenOf(table(), { ...seen, welcomed: false }), "welcome");
  assert.equal(screenOf(table({ round: null }), seen), "waiting");
  assert.equal(screenOf(table(), seen), "tasting");
  assert.equal(screenOf(table({ tasting: { state: "revealed" } }), seen), "closed");
});

test("one may go back to earlier rounds, never ahead", () => {
  assert.deepEqual(openRounds(table()).map(({ key }) => key), ["dry", "hot"]);
  assert.deepEqual(openRounds(table({ round: null })), []);
});

test("where nothing is tasted there is the aroma alone, and trails keep to rounds of their kind", () => {
  assert.deepEqual(sensationsIn(/** @type {any} */ (sensations), /** @type {any} */ (rounds[0])).map(({ key }) => key), ["aroma"]);
  assert.equal(sensationsIn(/** @type {any} */ (sensations), /** @type {any} */ (rounds[1])).length, 2);
  assert.deepEqual(earlierRounds(table(), "warm", /** @type {any} */ (sensations[0])), ["dry", "hot"]);
  assert.deepEqual(earlierRounds(table(), "warm", /** @type {any} */ (sensations[1])), ["hot"]);
});

test("a round has the pads that the laptop says it asks for, and trails keep to rounds that asked", () => {
  const asked = { dry: ["aroma"], hot: ["body"] };
  const pads = (/** @type {number} */ place) => sensationsIn(/** @type {any} */ (sensations), /** @type {any} */ (rounds[place]), asked).map(({ key }) => key);
  assert.deepEqual([pads(0), pads(1), pads(2)], [["aroma"], ["body"], ["aroma", "body"]], "a round that is not named is as before");
  assert.deepEqual(earlierRounds(table({ asked }), "warm", /** @type {any} */ (sensations[0])), ["dry"]);
  const store = new SeatStore();
  store.setTable(table({ asked }));
  assert.deepEqual([store.view.sensation, store.sensations.length], ["body", 1]);
});

test("the first round called opens by itself; a later one waits until the taster goes there", () => {
  const store = new SeatStore();
  store.setTable(table({ round: null }));
  store.hear({ version: 2, state: "open", round: "hot", poured: { 417: 77 }, now_ms: 1 });
  assert.equal(store.view.round, "hot");
  assert.equal(store.table?.bowls["417"].poured_at_ms, 77);
  store.hear({ version: 3, state: "open", round: "warm", poured: {}, now_ms: 1 });
  assert.equal(store.view.round, "hot");
  assert.equal(store.table?.round, "warm");
});

test("old news is not news", () => {
  const store = new SeatStore();
  store.setTable(table({ version: 5 }));
  store.hear({ version: 4, state: "closed", round: null, poured: {}, now_ms: 1 });
  assert.equal(store.table?.tasting.state, "open");
});

test("before the view moves to another pad, whatever still moves is told to settle", () => {
  const store = new SeatStore();
  store.setTable(table());
  /** @type {any[]} */
  const left = [];
  store.addEventListener("leave", () => left.push(store.view.sensation));
  store.look({ bowl: "417" });
  store.look({ sensation: "body" });
  assert.deepEqual(left, ["aroma"]);
  store.look({ flight: 1 });
  assert.equal(store.view.bowl, null, "a bowl of the other flight is let go");
});

test("a host who goes back to a round before does not take an unsettled move along", () => {
  const store = new SeatStore();
  store.setTable(table({ round: "warm" }));
  store.look({ sensation: "body" });
  /** @type {any[]} */
  const left = [];
  store.addEventListener("leave", () => left.push([store.view.round, store.view.sensation]));
  store.hear(/** @type {any} */ ({ version: 2, state: "open", round: "warm", poured: {}, now_ms: 1 }));
  assert.deepEqual(left, [], "nothing to leave");
  store.hear(/** @type {any} */ ({ version: 3, state: "open", round: "dry", poured: {}, now_ms: 1 }));
  assert.deepEqual(left, [["warm", "body"]]);
  assert.deepEqual([store.view.round, store.view.sensation], ["dry", "aroma"]);
});

test("undo goes back pad by pad", () => {
  const undo = new Undo();
  const step = { bowl: "417", sensation: "body", round: "hot", intensity: null, liking: null };
  undo.push(step);
  undo.push({ ...step, sensation: "aroma", intensity: 5 });
  undo.push({ ...step, intensity: 9 });
  assert.equal(undo.take("body", "hot")?.intensity, 9);
  assert.equal(undo.take("body", "hot")?.intensity, null);
  assert.equal(undo.take("body", "hot"), undefined);
  assert.equal(undo.take("aroma", "hot")?.intensity, 5);
});

test("what one tap has kept, one undo takes back", () => {
  const undo = new Undo();
  const step = { bowl: "417", sensation: "body", round: "warm", intensity: null, liking: null };
  undo.push({ ...step, intensity: 3 });
  undo.push({ ...step, bowl: "862", together: "a" });
  undo.push({ ...step, bowl: "305", together: "a" });
  assert.deepEqual(undo.takeTogether("body", "warm").map(({ bowl }) => bowl), ["305", "862"]);
  assert.deepEqual(undo.takeTogether("body", "warm").map(({ intensity }) => intensity), [3]);
  assert.deepEqual(undo.takeTogether("body", "warm"), []);
});

test("the practice gives one hint at a time and never goes back", () => {
  let practice = beginPractice();
  const seen = [hintOf(practice)];
  for (const [code, intensity] of /** @type {Array<[string, number]>} */ ([["lemon", 10], ["honey", 90], ["lemon", 12]])) {
    practice = practised(practice, code, { intensity, liking: 50 });
    seen.push(hintOf(practice));
  }
  assert.equal(new Set(seen).size, 4);
  assert.equal(practised(practice, "lemon", { intensity: null, liking: null }).step, 3);
  assert.deepEqual(practiceTokens(beginPractice()).map(({ code, next }) => [code, next]), [["lemon", true], ["honey", false]]);
});

test("the page says quietly what is saved where", () => {
  const fine = { waiting: 0, refused: 0, reachable: true, keeps: /** @type {const} */ ("indexeddb") };
  assert.equal(savedWords(fine), "All saved on the laptop");
  assert.equal(savedWords({ ...fine, waiting: 3 }), "3 waiting on this phone");
  assert.equal(savedWords({ ...fine, waiting: 3, reachable: false }), "3 waiting on this phone · laptop out of reach");
  assert.equal(savedWords({ ...fine, refused: 1 }), "1 not accepted");
  assert.equal(savedWords({ ...fine, unknown: true }), "the laptop does not know this seat");
  assert.equal(savedWords({ ...fine, waiting: 2, full: true }), "2 waiting on this phone · the laptop cannot save now, please tell the host");
  assert.equal(savedWords({ ...fine, waiting: 1, keeps: "memory" }), "1 waiting on this phone · keep this page open until all is saved");
});

test("progress is told in words", () => {
  assert.equal(progressWords({ done: 3, of: 28 }, true), "3 of 28 placed in this round.");
  assert.match(progressWords({ done: 28, of: 28 }, true), /until the host goes on/);
  assert.equal(progressWords({ done: 28, of: 28 }, false), "All placed in this round.");
});

test("a record is named in plain words", () => {
  assert.equal(recordWords({ kind: "mark", id: "", bowl: "417", sensation: "body", round: "hot", intensity: 1, liking: 1, at_ms: 1 }, table()), "417, body, Hot");
  assert.equal(recordWords({ kind: "note", id: "", bowl: "417", text: "x", round: "hot", at_ms: 1 }, null), "417, note");
});
