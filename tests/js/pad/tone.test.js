// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { toneOf, TONES } from "../../../src/twobowls/web/static/js/pad/tone.js";

const CODES = ["862", "305", "417", "588"];

test("a bowl has its tone by its code, in whatever order a page knows the bowls", () => {
  const tones = (/** @type {string[]} */ codes) => Object.fromEntries(CODES.map((code) => [code, toneOf(code, codes)]));
  assert.deepEqual(tones(CODES), { 305: "1", 417: "2", 588: "3", 862: "4" });
  assert.deepEqual(tones([...CODES].reverse()), tones(CODES));
});

test("there are as many tones as the style sheets know; then they begin again", () => {
  const many = Array.from({ length: TONES + 2 }, (_, place) => String(101 + place));
  assert.equal(new Set(many.slice(0, TONES).map((code) => toneOf(code, many))).size, TONES);
  assert.equal(toneOf(many[TONES], many), "1");
  assert.equal(toneOf("999", many), "1");
});
