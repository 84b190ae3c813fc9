// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { indexRecords, isKept, keptMarks, mergeRecords, nextOf, pickKey, placedCount, roundProgress, standing, tokensOf, wordKey } from "../../../src/twobowls/web/static/js/seat/records.js";

let made = 0;
const mark = (/** @type {string} */ bowl, /** @type {number | null} */ intensity, /** @type {number | null} */ liking, /** @type {any} */ more = {}) =>
  ({ kind: /** @type {const} */ ("mark"), id: `m${(made += 1)}`, bowl, sensation: "acidity", round: "hot", intensity, liking, at_ms: made, ...more });
const word = (/** @type {string} */ term, /** @type {any} */ feeling) =>
  ({ kind: /** @type {const} */ ("word"), id: `w${(made += 1)}`, bowl: "417", family: "fruity", term, feeling, round: "hot", at_ms: made });

test("the latest mark counts, and the round is part of it", () => {
  const index = indexRecords([mark("417", 10, 20), mark("417", 30, 40), mark("417", 90, 90, { round: "warm" })]);
  assert.deepEqual(standing(index, "417", "acidity", "hot"), { intensity: 30, liking: 40 });
  assert.deepEqual(standing(index, "417", "acidity", "warm"), { intensity: 90, liking: 90 });
  assert.deepEqual(standing(index, "862", "acidity", "hot"), { intensity: null, liking: null });
});

test("records from two sides are merged by id, in the order of time", () => {
  const [a, b, c] = [mark("417", 1, 1), mark("417", 2, 2), mark("417", 3, 3)];
  assert.deepEqual(mergeRecords([c], [a, c, b]).map(({ id }) => id), [a.id, b.id, c.id]);
  assert.equal(mergeRecords([a, b], [b, a]).length, 2);
});

test("a mark with both values taken away leaves the bowl unplaced again", () => {
  const index = indexRecords([mark("417", 10, 20), mark("417", null, null), mark("862", 5, null)]);
  assert.equal(placedCount(index, ["417", "862"], "acidity", "hot"), 0);
  assert.deepEqual(tokensOf(index, ["417", "862"], "acidity", "hot", []).map(({ next }) => next), [true, false]);
});

test("words: the last feeling counts, removed ones are gone, family and term are two words", () => {
  const index = indexRecords([word("", "liked"), word("citrus", "neutral"), word("citrus", "disliked"), word("", "removed")]);
  const words = index.words.get("417");
  assert.deepEqual([...(words?.keys() ?? [])], [wordKey("fruity", "citrus")]);
  assert.equal(words?.get(wordKey("fruity", "citrus"))?.feeling, "disliked");
});

test("a pick is the same whichever bowl is named first", () => {
  assert.equal(pickKey("862", "417", "body", "hot", "more"), pickKey("417", "862", "body", "hot", "more"));
  assert.notEqual(pickKey("862", "417", "body", "hot", "more"), pickKey("862", "417", "body", "hot", "better"));
});

test("a round's progress counts every bowl of every flight on every pad", () => {
  const index = indexRecords([mark("417", 10, 20), mark("305", 10, 20), mark("305", 1, 2, { sensation: "body" }), mark("862", 5, null)]);
  assert.deepEqual(roundProgress(index, [["417", "862"], ["305"]], [{ key: "acidity" }, { key: "body" }], "hot"), { done: 3, of: 6 });
});

test("tokens carry their way through earlier rounds", () => {
  const index = indexRecords([mark("417", 10, 20), mark("417", 30, 40, { round: "warm" })]);
  const [token] = tokensOf(index, ["417"], "acidity", "cool", ["hot", "warm"]);
  assert.deepEqual(token.trail.map(({ round, intensity }) => [round, intensity]), [["hot", 10], ["warm", 30]]);
  assert.equal(token.intensity, null);
});

test("what has no place in a round is kept where it stood in the last round that had it; nothing is made up", () => {
  const index = indexRecords([
    mark("417", 10, 20, { round: "hot" }), mark("417", 30, 40, { round: "warm" }), mark("862", 50, 60, { round: "hot" }),
    mark("588", 70, 80, { round: "hot" }), mark("588", 75, 80, { round: "cool" }), mark("146", 5, 5, { round: "hot" }), mark("146", null, null, { round: "hot" }),
  ]);
  const kept = keptMarks(index, ["417", "862", "305", "588", "146"], "acidity", "cool", ["hot", "warm"]);
  assert.deepEqual(kept.map(({ bowl, intensity, liking, round, kept: flag }) => [bowl, intensity, liking, round, flag]),
    [["417", 30, 40, "cool", true], ["862", 50, 60, "cool", true]]);
  assert.deepEqual(keptMarks(index, ["417"], "acidity", "hot", []), [], "the first round has nothing to keep");
});

test("a bowl is kept until it is moved", () => {
  const kept = mark("417", 10, 20, { kept: true });
  assert.equal(isKept(indexRecords([kept]), "417", "acidity", "hot"), true);
  assert.equal(isKept(indexRecords([kept, mark("417", 12, 20)]), "417", "acidity", "hot"), false);
  assert.equal(isKept(indexRecords([]), "417", "acidity", "hot"), false);
});

test("the next bowl is the first without a place; none when all stand", () => {
  const tokens = (/** @type {any[]} */ marks) => tokensOf(indexRecords(marks), ["417", "862"], "acidity", "hot", []);
  assert.equal(nextOf(tokens([])), "417");
  assert.equal(nextOf(tokens([mark("417", 1, 2)])), "862");
  assert.equal(nextOf(tokens([mark("417", 1, 2), mark("862", 1, 2)])), null);
});
