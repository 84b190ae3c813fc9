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

test("each close pair gets both questions; a bowl is in one open pair at a time", () => {
  const crowd = ["a", "b", "c", "d", "e", "f"].map((code, place) => at(code, 50 + place, 50));
  const questions = questionsFor(crowd, new Map(), "body", "hot");
  assert.deepEqual(questions.map(({ a, b, question }) => [a + b, question]), [["ab", "more"], ["ab", "better"], ["cd", "more"], ["cd", "better"]]);
});

test("answered pairs stay in sight and make room for the next", () => {
  const crowd = ["a", "b", "c"].map((code, place) => at(code, 50 + place, 50));
  const picks = new Map([
    [pickKey("a", "b", "body", "hot", "more"), { answer: "same" }],
    [pickKey("a", "b", "body", "hot", "better"), { answer: "b" }],
  ]);
  const questions = questionsFor(crowd, picks, "body", "hot");
  assert.deepEqual(questions.map(({ a, b, answer }) => [a + b, answer]), [["ab", "same"], ["ab", "b"], ["bc", null], ["bc", null]]);
});

test("questions are put in the words of the sensation", () => {
  assert.equal(questionText({ key: "acidity", name: "Acidity" }, "more", "417", "862"), "Which has more acidity, 417 or 862?");
  assert.equal(questionText({ key: "verdict", name: "Verdict" }, "better", "417", "862"), "Which do you like better, 417 or 862?");
  assert.equal(questionText({ key: "aftertaste", name: "Aftertaste" }, "more", "417", "862"), "Which has the stronger aftertaste, 417 or 862?");
});
