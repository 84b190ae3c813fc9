// @ts-check
import assert from "node:assert/strict";
import { mock, test } from "node:test";
import { keyMove } from "../../../src/twobowls/web/static/js/pad/keys.js";
import { Settler } from "../../../src/twobowls/web/static/js/pad/settle.js";
import { ghostOpacity, trailPath } from "../../../src/twobowls/web/static/js/pad/trails.js";
import { likingWords, placeWords, strengthWords } from "../../../src/twobowls/web/static/js/pad/wording.js";

const nowhere = { intensity: null, liking: null };

test("arrows move on both scales, with shift in strides; Delete takes the token off", () => {
  assert.deepEqual(keyMove({ key: "ArrowRight", shiftKey: false }, { intensity: 40, liking: 60 }), { scale: "intensity", intensity: 42, liking: 60 });
  assert.deepEqual(keyMove({ key: "ArrowDown", shiftKey: true }, { intensity: 40, liking: 60 }), { scale: "liking", intensity: 40, liking: 50 });
  assert.deepEqual(keyMove({ key: "ArrowUp", shiftKey: false }, nowhere), { scale: "liking", intensity: 50, liking: 52 });
  assert.deepEqual(keyMove({ key: "Delete", shiftKey: false }, { intensity: 40, liking: 60 }), { scale: null, ...nowhere });
  assert.equal(keyMove({ key: "Tab", shiftKey: false }, nowhere), null);
});

test("many small moves settle as one, from where they began to where they rest, made by the last", () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  /** @type {any[]} */
  const settled = [];
  let now = 5000;
  const settler = new Settler((...what) => settled.push(what), 700, () => now);
  settler.move("417", nowhere, { intensity: 50, liking: 52 });
  mock.timers.tick(600);
  now = 5600;
  settler.move("417", { intensity: 50, liking: 52 }, { intensity: 50, liking: 54 });
  mock.timers.tick(600);
  assert.deepEqual(settled, []);
  assert.deepEqual(settler.at("417"), { intensity: 50, liking: 54 });
  mock.timers.tick(100);
  assert.deepEqual(settled, [["417", nowhere, { intensity: 50, liking: 54 }, 5600]]);
  assert.equal(settler.at("417"), undefined);
  mock.timers.reset();
});

test("leaving settles at once, and a move back to the start is no move", () => {
  /** @type {any[]} */
  const settled = [];
  const settler = new Settler((...what) => settled.push(what), 60000, () => 7);
  settler.move("417", { intensity: 10, liking: 10 }, { intensity: 12, liking: 10 });
  settler.move("417", { intensity: 12, liking: 10 }, { intensity: 10, liking: 10 });
  settler.move("862", nowhere, { intensity: 1, liking: 2 });
  settler.flush();
  assert.deepEqual(settled, [["862", nowhere, { intensity: 1, liking: 2 }, 7]]);
});

test("a trail is a line through the rounds; one point makes none", () => {
  assert.equal(trailPath([{ x: 1.26, y: 2 }, { x: 3, y: 4 }]), "M1.3 2 L3 4");
  assert.equal(trailPath([{ x: 1, y: 2 }]), "");
  assert.equal(trailPath([]), "");
});

test("older ghosts are fainter, never gone", () => {
  const shades = [0, 1, 2, 3].map((index) => ghostOpacity(index, 4));
  assert.deepEqual([...shades].sort((a, b) => a - b), shades);
  assert.ok(shades[0] >= 0.3 && shades[3] < 1);
});

test("places are told in words", () => {
  assert.equal(placeWords("417", "Acidity", { intensity: 66, liking: 60 }), "417: acidity rather strong, liked a little");
  assert.equal(placeWords("862", "Body", nowhere), "862: not placed yet");
  assert.equal(placeWords("862", "Body", { intensity: 5, liking: null }), "862: body hardly there, liking not judged");
});

test("the middle of the liking line is neither, and the ends are the strongest words", () => {
  assert.equal(likingWords(50), "neither liked nor disliked");
  assert.equal(likingWords(44.9), "disliked a little");
  assert.equal(likingWords(0), "disliked very much");
  assert.equal(likingWords(100), "liked very much");
  assert.equal(strengthWords(0), "hardly there");
  assert.equal(strengthWords(100), "very strong");
});
