// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { closePairs, laterKey, questionFor, questionText } from "../../../src/twobowls/web/static/js/seat/picks.js";
import { pickKey } from "../../../src/twobowls/web/static/js/seat/records.js";

const at = (/** @type {string} */ code, /** @type {number | null} */ intensity, /** @type {number | null} */ liking) => ({ code, intensity, liking });

test("only bowls close on both scales are asked about, the closest first", () => {
  const pairs = closePairs([at("a", 50, 50), at("b", 55, 50), at("c", 52, 51), at("d", 50, 80), at("e", null, null)]);
  assert.deepEqual(pairs.map(({ a, b }) => a + b), ["ac", "bc", "ab"]);
});

const pick = (/** @type {string} */ a, /** @type {string} */ b, /** @type {any} */ question, /** @type {string} */ answer, sensation = "body", round = "hot") =>
  /** @type {[string, any]} */ ([pickKey(a, b, sensation, round, question), { kind: "pick", bowl_a: a, bowl_b: b, sensation, round, question, answer }]);

test("the closest pair alone is asked about, with one question, once the pad is complete", () => {
  const crowd = ["a", "b", "c", "d", "e", "f"].map((code, place) => at(code, 50 + place, 50));
  const told = (/** @type {string} */ pad) => questionFor(crowd, new Map(), pad, "hot");
  assert.deepEqual(told("body"), { a: "a", b: "b", question: "more", answer: null });
  assert.equal(told("verdict")?.question, "better");
  assert.equal(questionFor([...crowd, at("g", null, null)], new Map(), "body", "hot"), null);
});

test("neither an answer nor putting it off brings up another pair", () => {
  const crowd = ["a", "b", "c"].map((code, place) => at(code, 50 + place, 50));
  const picks = new Map([pick("a", "b", "more", "same")]);
  const told = (/** @type {any} */ tokens) => questionFor(tokens, picks, "body", "hot");
  assert.deepEqual(told(crowd), { a: "a", b: "b", question: "more", answer: "same" });
  assert.equal(told([at("a", 90, 90), ...crowd.slice(1)]), null, "nor does moving one of them away");
  assert.equal(questionFor(crowd, new Map(), "body", "hot", [laterKey("hot", "body")])?.answer, null);
});

test("six pairs are asked about in a round, one of them kept for the verdict", () => {
  const crowd = ["a", "b"].map((code, place) => at(code, 50 + place, 50));
  const pads = ["aroma", "acidity", "bitterness", "sweetness", "body", "aftertaste"];
  const after = (/** @type {number} */ count, /** @type {string} */ pad, round = "hot", /** @type {string[]} */ later = []) =>
    questionFor(crowd, new Map(pads.slice(0, count).map((each) => pick("a", "b", "more", "a", each))), pad, round, later) !== null;
  assert.deepEqual([after(4, "aftertaste"), after(5, "aftertaste"), after(5, "verdict"), after(6, "verdict")], [true, false, true, false]);
  assert.equal(after(6, "verdict", "warm"), true);
  assert.equal(after(4, "aftertaste", "hot", [laterKey("hot", "body")]), false, "put off is asked, too");
});

test("questions are put in the words of the sensation", () => {
  assert.equal(questionText({ key: "acidity", name: "Acidity" }, "more", "417", "862"), "Which has more acidity, 417 or 862?");
  assert.equal(questionText({ key: "verdict", name: "Verdict" }, "better", "417", "862"), "Which do you like better, 417 or 862?");
  assert.equal(questionText({ key: "aftertaste", name: "Aftertaste" }, "more", "417", "862"), "Which has the stronger aftertaste, 417 or 862?");
});
