import assert from "node:assert/strict";
import { test } from "node:test";

import { labelOf, meanOf, roundsOf, spokenLabel, stepFrom, stepsOf, wayOf } from "../../../src/twobowls/web/static/js/host/wall-play.js";
import { headline, progressOf, showsPads } from "../../../src/twobowls/web/static/js/host/wall-words.js";

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
  const seats = [{ id: "a", number: 1, nickname: "Ada", marked: { hot: 28 } }, { id: "b", number: 2, nickname: "Ben", marked: { hot: 7 } }];
  const bench = { state: "open", round: "hot", expected: { hot: 28 }, seats };
  assert.deepEqual(progressOf(bench), { seats: "1 of 2 seats done", marks: "35 of 56 places marked", share: 35 / 56 });
  assert.deepEqual(progressOf({ ...bench, round: null }), { seats: "2 seats taken", marks: "", share: null });
  assert.deepEqual(progressOf({ ...bench, state: "planned", round: null, seats: [] }), { seats: "No seats taken", marks: "", share: null });
  assert.deepEqual(progressOf({ ...bench, seats: [seats[0]] }).seats, "All seats are done");
  assert.equal(progressOf({ ...bench, state: "closed" }).share, null);
});

test("pads are for a tasting that has closed", () => {
  assert.deepEqual(["planned", "open", "closed", "revealed"].map(showsPads), [false, false, true, true]);
  assert.equal(headline("open", "Warm"), "Warm");
  assert.equal(headline("open"), "Soon");
});
