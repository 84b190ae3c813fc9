import assert from "node:assert/strict";
import { test } from "node:test";
import { earlierRounds, sensationsIn } from "../../../src/twobowls/web/static/js/seat/screens.js";

const pads = /** @type {any[]} */ ([{ key: "aroma", kind: "aroma" }, { key: "body", kind: "taste" }, { key: "verdict", kind: "taste" }]);
const rounds = /** @type {any[]} */ ([{ key: "hot", kind: "taste" }, { key: "warm", kind: "taste" }, { key: "cool", kind: "taste" }]);
const asked = { hot: ["aroma", "verdict"], warm: ["body"], cool: ["verdict"] };

test("a round has the pads that it asks, and without a word on it those of its kind", () => {
  assert.deepEqual(sensationsIn(pads, rounds[0], asked).map(({ key }) => key), ["aroma", "verdict"]);
  assert.deepEqual(sensationsIn(pads, rounds[1]).length, 3);
});

test("a trail passes only through rounds that asked for the sensation", () => {
  const table = /** @type {any} */ ({ rounds, asked });
  assert.deepEqual(earlierRounds(table, "cool", pads[2]), ["hot"]);
  assert.deepEqual(earlierRounds(/** @type {any} */ ({ rounds }), "cool", pads[2]), ["hot", "warm"]);
});
