import assert from "node:assert/strict";
import { test } from "node:test";

import { toneOf } from "../../../src/twobowls/web/static/js/pad/tone.js";
import { labelOf, meanOf, roundsOf, spokenLabel, stepFrom, stepsOf, wayOf } from "../../../src/twobowls/web/static/js/host/wall-play.js";
import { headline, progressOf, showsPads, warmthWords } from "../../../src/twobowls/web/static/js/host/wall-words.js";

const rounds = [{ key: "wet", name: "Wet aroma" }, { key: "hot", name: "Hot" }, { key: "cool", name: "Cool" }];
const pad = (key, marked) => ({ key, name: key, low: "", high: "", rounds: marked });
const aroma = pad("aroma", { cool: { 417: [[40, 60]] }, wet: { 417: [[10, 20], [20, 40]], 862: [[90, 90]] } });
const body = pad("body", { cool: { 417: [[50, 50]] } });
const sweetness = pad("sweetness", {});

test("pads are shown in turn, each through the rounds that have marks", () => {
  assert.deepEqual(stepsOf([aroma, sweetness, body], rounds), [
    { pad: "aroma", round: "wet" },
    { pad: "aroma", round: "cool" },
    { pad: "body", round: "cool" },
  ]);
  assert.deepEqual(roundsOf(sweetness, rounds), []);
});

test("turning the page stops at both ends", () => {
  const steps = stepsOf([aroma, body], rounds);
  assert.deepEqual(stepFrom(steps, steps[0], 1), steps[1]);
  assert.deepEqual(stepFrom(steps, steps[0], -1), steps[0]);
  assert.deepEqual(stepFrom(steps, steps[2], 1), steps[2]);
});

test("a bowl stands at the plain mean of its marks and goes on from round to round", () => {
  assert.deepEqual(meanOf([[10, 20], [20, 40]]), { intensity: 15, liking: 30 });
  assert.equal(meanOf([]), null);
  assert.deepEqual(wayOf(aroma, rounds, "wet", "417"), [{ intensity: 15, liking: 30 }]);
  assert.deepEqual(wayOf(aroma, rounds, "cool", "417"), [{ intensity: 15, liking: 30 }, { intensity: 40, liking: 60 }]);
  assert.deepEqual(wayOf(aroma, rounds, "cool", "862"), [{ intensity: 90, liking: 90 }]);
  assert.deepEqual(wayOf(aroma, rounds, "wet", "305"), []);
});

test("a label is the code until there is a name; ears are told both", () => {
  const secret = { code: "417", coffee: "" };
  assert.equal(labelOf(secret), "417");
  assert.equal(spokenLabel(secret), "417");
  const told = { code: "417", coffee: "A very long name of a coffee" };
  assert.equal(labelOf(told), "A very long n…");
  assert.equal(spokenLabel(told), "A very long name of a coffee 417");
});

test("the wall counts marks and names nobody", () => {
  const seats = [{ id: "a", number: 1, nickname: "Ada", marked: { hot: 28 }, taking_part: true }, { id: "b", number: 2, nickname: "Ben", marked: { hot: 7 }, taking_part: true }];
  const bench = { state: "open", round: "hot", expected: { hot: 28 }, seats };
  assert.deepEqual(progressOf(bench), { seats: "1 of 2 seats done", marks: "35 of 56 places marked", share: 35 / 56 });
  assert.deepEqual(progressOf({ ...bench, round: null }), { seats: "2 seats taken", marks: "", share: null });
  assert.deepEqual(progressOf({ ...bench, state: "planned", round: null, seats: [] }), { seats: "No seats taken", marks: "", share: null });
  assert.deepEqual(progressOf({ ...bench, seats: [seats[0]] }).seats, "All seats are done");
  assert.equal(progressOf({ ...bench, state: "closed" }).share, null);
});

test("a seat that nobody sits on counts for nothing", () => {
  const seats = [
    { id: "a", number: 1, nickname: "Ada", marked: { hot: 28 }, taking_part: true },
    { id: "b", number: 2, nickname: "Ada 2", marked: {}, taking_part: false },
  ];
  const bench = { state: "open", round: "hot", expected: { hot: 28 }, seats };
  assert.deepEqual(progressOf(bench), { seats: "All seats are done", marks: "28 of 28 places marked", share: 1 });
  assert.equal(progressOf({ ...bench, state: "planned", round: null }).seats, "1 seat taken");
  assert.equal(progressOf({ ...bench, seats: [seats[1]] }).seats, "No seats taken");
});

test("a bowl's warmth is told for the round that runs", () => {
  const tasted = [
    { key: "wet", name: "Wet aroma", target: null },
    { key: "hot", name: "Hot", target: 60 },
    { key: "warm", name: "Warm", target: 50 },
  ];
  assert.equal(warmthWords(60.6, tasted, "hot"), "still above 60 °C");
  assert.equal(warmthWords(60.4, tasted, "hot"), "right for Hot");
  assert.equal(warmthWords(50, tasted, "hot"), "right for Hot");
  assert.equal(warmthWords(49.9, tasted, "hot"), "below 50 °C by now");
  assert.equal(warmthWords(20, tasted, "warm"), "right for Warm", "no round is cooler");
  for (const [celsius, round] of [[55, "wet"], [55, null], [null, "hot"]]) assert.equal(warmthWords(celsius, tasted, round), "");
});

test("a bowl has one tone wherever it is shown: that of its code's place among all", () => {
  const codes = ["862", "104", "417"];
  assert.deepEqual(codes.map((code) => toneOf(code, codes)), ["3", "1", "2"]);
  assert.equal(toneOf("104", ["104"]), "1");
  const many = Array.from({ length: 9 }, (_, place) => String(101 + place));
  assert.equal(toneOf("109", many), "1", "after eight it begins again");
});

test("pads are for a tasting that has closed", () => {
  assert.deepEqual(["planned", "open", "closed", "revealed"].map(showsPads), [false, false, true, true]);
  assert.equal(headline("open", "Warm"), "Warm");
  assert.equal(headline("open"), "Soon");
});
