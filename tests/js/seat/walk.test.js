// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { beside } from "../../../src/twobowls/web/static/js/seat/walk.js";

const PADS = ["acidity", "body", "verdict"];
const CODES = ["417", "862"];

/** @param {"sensations" | "bowls"} walk @param {any} here @param {1 | -1} by */
function walked(walk, here, by) {
  const stops = [];
  for (let stop = beside(walk, PADS, CODES, here, by); stop; stop = beside(walk, PADS, CODES, stop, by)) stops.push(`${stop.sensation} ${stop.bowl}`);
  return stops;
}

test("sensation by sensation the pads come one after the other", () => {
  assert.deepEqual(walked("sensations", { sensation: "acidity", bowl: "862" }, 1), ["body null", "verdict null"]);
  assert.deepEqual(walked("sensations", { sensation: "body", bowl: null }, -1), ["acidity null"]);
});

test("bowl by bowl all pads come for one bowl, then for the next", () => {
  const on = ["body 417", "verdict 417", "acidity 862", "body 862", "verdict 862"];
  assert.deepEqual(walked("bowls", { sensation: "acidity", bowl: null }, 1), on);
  const back = [...on.slice(0, -1).reverse(), "acidity 417"];
  assert.deepEqual(walked("bowls", { sensation: "verdict", bowl: "862" }, -1), back);
});
