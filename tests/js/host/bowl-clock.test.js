import assert from "node:assert/strict";
import { test } from "node:test";

import { DUE_FOR_S, clockText, nextStep, roundReadyIn, stepsOf } from "../../../src/twobowls/web/static/js/host/bowl-clock.js";

const clock = { break_s: 240, skim_s: 315, first_sip_s: 800, rounds: { dry: null, wet: 240, hot: 800, warm: 1400 } };
const rounds = [
  { key: "dry", name: "Dry aroma" },
  { key: "wet", name: "Wet aroma" },
  { key: "hot", name: "Hot" },
  { key: "warm", name: "Warm" },
];

test("the steps of a bowl come in the order of time, rounds after the first sip", () => {
  assert.deepEqual(stepsOf(clock, rounds), [
    { at_s: 240, text: "break the crust" },
    { at_s: 315, text: "skim" },
    { at_s: 800, text: "small sips" },
    { at_s: 1400, text: "Warm" },
  ]);
});

test("what comes next is counted down, is due for a while, and ends", () => {
  const steps = stepsOf(clock, rounds);
  assert.deepEqual(nextStep(0, steps), { text: "break the crust", in_s: 240, due: false });
  assert.deepEqual(nextStep(240, steps), { text: "break the crust", in_s: 0, due: true });
  assert.deepEqual(nextStep(240 + DUE_FOR_S, steps), { text: "skim", in_s: 315 - 240 - DUE_FOR_S, due: false });
  assert.deepEqual(nextStep(1400 + DUE_FOR_S, steps), { text: "all rounds ready", in_s: null, due: false });
});

test("when two steps fall together the later one of the list is due", () => {
  const steps = stepsOf({ ...clock, skim_s: 250 }, rounds);
  assert.equal(nextStep(255, steps).text, "skim");
});

test("a round is ready when the bowl poured last is", () => {
  assert.equal(roundReadyIn(800, { 417: 0, 862: 60_000 }, 100_000), 760);
  assert.equal(roundReadyIn(800, { 417: 0, 862: null }, 100_000), null);
  assert.equal(roundReadyIn(null, { 417: 0 }, 100_000), null);
});

test("a clock never runs below nought", () => {
  assert.equal(clockText(245.9), "4:05");
  assert.equal(clockText(-3), "0:00");
});
