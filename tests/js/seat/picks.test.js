// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { closePairs, questionsFor, questionText } from "../../../src/twobowls/web/static/js/seat/picks.js";
import { pickKey } from "../../../src/twobowls/web/static/js/seat/records.js";

const at = (/** @type {string} */ code, /** @type {number | null} */ intensity, /** @type {number | null} */ liking) => ({ code, intensity, liking });

test("only bowls close on both scales are asked about, the closest first", () => {
  const pairs = closePairs([at("a", 50, 50), at("b", 55, 50), at("c", 52, 51), at("d", 50, 80), at("e", null, null)]);
  assert.deepEqual(pairs.map(({ a, b }) => a + b), ["ac", "bc", "ab"]);
});

const pick = (/** @type {string} */ a, /** @type {string} */ b, /** @type {any} */ question, /** @type {string} */ answer, sensation = "body", round = "hot") =>
  /** @type {[string, any]} */ ([pickKey(a, b, sensation, round, question), { kind: "pick", bowl_a: a, bowl_b: b, sensation, round, question, answer }]);

test("the closest pair alone is asked about, with both questions", () => {
  const crowd = ["a", "b", "c", "d", "e", "f"].map((code, place) => at(code, 50 + place, 50));
  const questions = questionsFor(crowd, new Map(), "body", "hot");
  assert.deepEqual(questions.map(({ a, b, question }) => [a + b, question]), [["ab", "more"], ["ab", "better"]]);
});

test("an answered pair stays in sight and brings up no other one", () => {
  const crowd = ["a", "b", "c"].map((code, place) => at(code, 50 + place, 50));
  const picks = new Map([pick("a", "b", "more", "same"), pick("a", "b", "better", "b")]);
  const told = (/** @type {any} */ tokens) => questionsFor(tokens, picks, "body", "hot").map(({ a, b, answer }) => [a + b, answer]);
  assert.deepEqual(told(crowd), [["ab", "same"], ["ab", "b"]]);
  assert.deepEqual(told([at("a", 90, 90), ...crowd.slice(1)]), [], "nor does moving one of them away");
});

test("six pairs are asked about in a round, and no seventh", () => {
  const crowd = ["a", "b"].map((code, place) => at(code, 50 + place, 50));
  const pads = ["aroma", "acidity", "bitterness", "sweetness", "body", "aftertaste"];
  const after = (/** @type {number} */ count, round = "hot") => questionsFor(crowd, new Map(pads.slice(0, count).map((pad) => pick("a", "b", "more", "a", pad))), "verdict", round).length;
  assert.deepEqual([after(5), after(6), after(6, "warm")], [2, 0, 2]);
});

test("questions are put in the words of the sensation", () => {
  assert.equal(questionText({ key: "acidity", name: "Acidity" }, "more", "417", "862"), "Which has more acidity, 417 or 862?");
  assert.equal(questionText({ key: "verdict", name: "Verdict" }, "better", "417", "862"), "Which do you like better, 417 or 862?");
  assert.equal(questionText({ key: "aftertaste", name: "Aftertaste" }, "more", "417", "862"), "Which has the stronger aftertaste, 417 or 862?");
});
