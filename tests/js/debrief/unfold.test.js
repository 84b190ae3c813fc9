// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { unfold } from "../../../src/twobowls/web/static/js/debrief/unfold.js";

/**
 * A page of one row inside folded parts, outermost first.
 * @param {boolean[]} open
 */
function page(open) {
  /** @type {any[]} */
  const parts = open.map((each) => ({ open: each }));
  parts.forEach((part, place) => {
    part.parentElement = { closest: () => parts[place - 1] ?? null };
  });
  const row = { closest: () => parts.at(-1) ?? null, scrolled: 0, scrollIntoView: () => { row.scrolled += 1; } };
  const found = /** @type {any} */ ({ getElementById: (/** @type {string} */ id) => (id === "row" ? row : null) });
  return { found, parts, row };
}

test("every part around the row is unfolded, and the row is brought into view", () => {
  const { found, parts, row } = page([false, true, false]);
  assert.equal(unfold(found, "row"), true);
  assert.deepEqual(parts.map((part) => part.open), [true, true, true]);
  assert.equal(row.scrolled, 1);
});

test("what is open already is left where the browser scrolled to", () => {
  const { found, row } = page([true]);
  assert.equal(unfold(found, "row"), true);
  assert.equal(row.scrolled, 0);
});

test("an address without a place, or with an unknown one, does nothing", () => {
  const { found, parts } = page([false]);
  assert.equal(unfold(found, ""), false);
  assert.equal(unfold(found, "elsewhere"), false);
  assert.equal(parts[0].open, false);
});
