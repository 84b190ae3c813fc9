// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { overlap, spreadLabels } from "../../../src/twobowls/web/static/js/pad/labels.js";
import { isPlaced, padLayout, placeOf, sideIn, targetsOf } from "../../../src/twobowls/web/static/js/pad/layout.js";
import { SLOT_PX, trayLayout } from "../../../src/twobowls/web/static/js/pad/tray.js";

const CODES = ["417", "862", "305", "588", "146", "739", "251", "903"];
const waiting = (/** @type {string} */ code) => ({ code, intensity: null, liking: null });

test("every bowl keeps its own slot of at least 48 px, in rows as needed", () => {
  for (const count of [1, 2, 4, 6, 7, 8, 12]) {
    const { rows, slots } = trayLayout(count, 328, 66);
    assert.equal(slots.length, count);
    for (const [place, { x, y }] of slots.entries()) {
      assert.ok(x >= SLOT_PX / 2 && x <= 328 - SLOT_PX / 2 && y > 0 && y < rows * 66);
      for (const other of slots.slice(place + 1)) assert.ok(Math.hypot(x - other.x, y - other.y) >= SLOT_PX - 1e-9);
    }
  }
  assert.equal(trayLayout(6, 328, 66).rows, 1);
  assert.equal(trayLayout(8, 328, 66).rows, 2);
});

test("tokens wait in the tray below the square until they have a place", () => {
  const layout = padLayout([{ code: "417", intensity: 20, liking: 80 }, waiting("862")], 328, true);
  assert.deepEqual([...layout.onPad.keys()], ["417"]);
  const dot = layout.dots.get("862");
  assert.ok(dot && dot.y > 328 && dot.y < layout.height);
  assert.equal(targetsOf(layout).length, 2);
});

test("a token that leaves does not shift those that wait", () => {
  const before = padLayout(CODES.map(waiting), 328, true);
  const after = padLayout(CODES.map((code, place) => (place ? waiting(code) : { code, intensity: 50, liking: 50 })), 328, true);
  for (const code of CODES.slice(1)) assert.deepEqual(after.dots.get(code), before.dots.get(code));
});

test("a read-only pad has no tray", () => {
  assert.equal(padLayout([], 300, false).height, 300);
});

test("one scale is enough to be on the pad, at the middle of the other", () => {
  assert.equal(isPlaced({ intensity: 30, liking: null }), true);
  assert.deepEqual(placeOf({ intensity: 30, liking: null }), { intensity: 30, liking: 50 });
  assert.equal(isPlaced({ intensity: null, liking: null }), false);
});

test("a lone label stands above its dot", () => {
  const box = spreadLabels([{ code: "417", dot: { x: 160, y: 160 }, width: 42, height: 26 }], { left: 0, top: 0, right: 328, bottom: 328 }).get("417");
  assert.deepEqual(box, { x: 160, y: 134, width: 42, height: 26 });
});

test("labels of bowls on the very same place do not cover each other and stay on the pad", () => {
  const bounds = { left: 0, top: 0, right: 328, bottom: 328 };
  for (const dot of [{ x: 164, y: 164 }, { x: 14, y: 14 }, { x: 314, y: 314 }]) {
    const boxes = [...spreadLabels(CODES.map((code) => ({ code, dot, width: 42, height: 26 })), bounds).values()];
    assert.equal(boxes.length, CODES.length);
    boxes.forEach((box, place) => {
      for (const other of boxes.slice(place + 1)) assert.ok(overlap(box, other) < 0.35 * 42 * 26, `${JSON.stringify(box)} ${JSON.stringify(other)}`);
      assert.ok(box.x > 0 && box.x < 328 && box.y > 0 && box.y < 328);
    });
  }
});

test("overlap is an area, and nothing for boxes side by side", () => {
  assert.equal(overlap({ x: 0, y: 0, width: 10, height: 10 }, { x: 5, y: 5, width: 10, height: 10 }), 25);
  assert.equal(overlap({ x: 0, y: 0, width: 10, height: 10 }, { x: 10, y: 0, width: 10, height: 10 }), 0);
});

test("the square leaves room for its tray, which may be wider than it", () => {
  const room = { width: 400, height: 300 };
  const side = sideIn(6, room, true);
  const layout = padLayout(CODES.slice(0, 6).map(waiting), side, true, room.width);
  assert.ok(layout.height <= room.height && layout.height > room.height - 2);
  assert.equal(sideIn(6, { width: 200, height: 900 }, true), 200);
  assert.equal(sideIn(6, room, false), 300);
  const xs = [...layout.dots.values()].map(({ x }) => x);
  assert.ok(Math.min(...xs) < 0 && Math.max(...xs) > side, "the slots keep the whole width");
});
