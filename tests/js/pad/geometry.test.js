// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { dragged, ellipseBox, hit, labelAt, LIFT_PX, nudge, tidy, toPlace, toPoint } from "../../../src/twobowls/web/static/js/pad/geometry.js";

const square = { size: 328, inset: 14 };

test("the corners of the scales lie inside the square, one margin from its corners", () => {
  assert.deepEqual(toPoint({ intensity: 0, liking: 0 }, square), { x: 14, y: 314 });
  assert.deepEqual(toPoint({ intensity: 100, liking: 100 }, square), { x: 314, y: 14 });
  assert.deepEqual(toPoint({ intensity: 50, liking: 50 }, square), { x: 164, y: 164 });
});

test("a place goes to a point and back unchanged, to a tenth", () => {
  for (let intensity = 0; intensity <= 100; intensity += 3.7) {
    for (let liking = 0; liking <= 100; liking += 6.1) {
      const back = toPlace(toPoint({ intensity, liking }, square), square);
      assert.ok(Math.abs(back.intensity - intensity) <= 0.05 + 1e-9);
      assert.ok(Math.abs(back.liking - liking) <= 0.05 + 1e-9);
    }
  }
});

test("points beyond the square count as its edge", () => {
  assert.deepEqual(toPlace({ x: -50, y: 900 }, square), { intensity: 0, liking: 0 });
  assert.deepEqual(toPlace({ x: 900, y: -50 }, square), { intensity: 100, liking: 100 });
});

test("values keep one decimal and stay on the scale", () => {
  assert.equal(tidy(33.333), 33.3);
  assert.equal(tidy(-2), 0);
  assert.equal(tidy(100.4), 100);
  assert.deepEqual(nudge({ intensity: 99, liking: 1 }, 2, -2), { intensity: 100, liking: 0 });
});

const target = (/** @type {string} */ code, /** @type {number} */ x, /** @type {number} */ y) =>
  ({ code, dot: { x, y }, label: { x, y: y - 26, width: 42, height: 26 } });

test("a finger means the nearest token within reach of its dot or its label", () => {
  const targets = [target("417", 100, 100), target("862", 150, 100)];
  assert.equal(hit({ x: 112, y: 104 }, targets), "417");
  assert.equal(hit({ x: 138, y: 104 }, targets), "862");
  assert.equal(hit({ x: 100, y: 50 }, targets), "417", "above the label, within reach of it");
  assert.equal(hit({ x: 100, y: 140 }, targets), null, "40 px below the dot means nothing");
});

test("a tap on a label means its bowl; one on a dot leaves room to put another upon it", () => {
  const targets = [target("417", 100, 100), target("862", 150, 100)];
  assert.equal(labelAt({ x: 104, y: 76 }, targets), "417");
  assert.equal(labelAt({ x: 150, y: 89 }, targets), "862", "a little below the label");
  assert.equal(labelAt({ x: 100, y: 100 }, targets), null);
});

test("targets are at least 48 px across", () => {
  const alone = [target("417", 200, 200)];
  for (const [x, y] of [[24, 0], [-24, 0], [0, 24]]) assert.equal(hit({ x: 200 + x, y: 200 + y }, alone), "417");
});

test("a mouse keeps its grip; under a finger the dot rises without a jump", () => {
  const start = { x: 100, y: 100 };
  const dot = { x: 104, y: 98 };
  assert.deepEqual(dragged(start, { x: 150, y: 120 }, dot, false), { x: 154, y: 118 });
  assert.deepEqual(dragged(start, start, dot, true), dot);
  assert.deepEqual(dragged(start, { x: 100, y: 300 }, dot, true), { x: 100, y: 300 - LIFT_PX });
  let last = dot;
  for (let y = 101; y < 300; y += 1) {
    const next = dragged(start, { x: 100, y }, dot, true);
    assert.ok(Math.hypot(next.x - last.x, next.y - last.y) < 2, "no step is larger than two finger steps");
    last = next;
  }
});

test("an ellipse is scaled like the pad and turns the other way, since pixels grow downward", () => {
  assert.deepEqual(ellipseBox({ intensity: 50, liking: 50, rx: 10, ry: 5, angle: 30 }, square),
    { x: 164, y: 164, rx: 30, ry: 15, rotate: -30 });
});
