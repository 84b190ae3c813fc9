// @ts-check
// Where each token's label goes so that codes stay readable when bowls sit close together.

/**
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {{x: number, y: number, width: number, height: number}} Box by its centre
 * @typedef {{left: number, top: number, right: number, bottom: number}} Bounds
 */

const DOT_PX = 11;
const RINGS = [1, 1.9, 2.9];

/** @param {string} text @returns {number} pixels: a tag with room for its code */
export const labelWidth = (text) => Math.max(42, Math.round(text.length * 8.6 + 16));

/** @param {Box} a @param {Box} b @returns {number} area that two boxes share */
export function overlap(a, b) {
  const wide = (a.width + b.width) / 2 - Math.abs(a.x - b.x);
  const high = (a.height + b.height) / 2 - Math.abs(a.y - b.y);
  return wide > 0 && high > 0 ? wide * high : 0;
}

/** @param {Box} box @param {Bounds} bounds @returns {number} how far it sticks out, pixels */
function outside(box, bounds) {
  return (
    Math.max(0, bounds.left - (box.x - box.width / 2)) +
    Math.max(0, box.x + box.width / 2 - bounds.right) +
    Math.max(0, bounds.top - (box.y - box.height / 2)) +
    Math.max(0, box.y + box.height / 2 - bounds.bottom)
  );
}

/**
 * Offsets to try, the most natural first: above, below, the sides, the corners, then further out.
 * @param {number} width
 * @param {number} height
 * @returns {Point[]}
 */
export function candidates(width, height) {
  const up = height / 2 + 13;
  const side = width / 2 + 13;
  const ring = [
    [0, -up], [0, up], [side, 0], [-side, 0],
    [side * 0.8, -up * 0.8], [-side * 0.8, -up * 0.8], [side * 0.8, up * 0.8], [-side * 0.8, up * 0.8],
  ];
  return RINGS.flatMap((far) => ring.map(([x, y]) => ({ x: x * far, y: y * far })));
}

/**
 * Choose a place for every label, one after the other, each with the least overlap with labels
 * that are placed already and with any dot.
 * @param {Array<{code: string, dot: Point, width: number, height: number}>} tokens
 * @param {Bounds} bounds
 * @returns {Map<string, Box>}
 */
export function spreadLabels(tokens, bounds) {
  /** @type {Map<string, Box>} */
  const placed = new Map();
  const dots = tokens.map(({ code, dot }) => ({ code, x: dot.x, y: dot.y, width: 2 * DOT_PX, height: 2 * DOT_PX }));
  for (const { code, dot, width, height } of tokens) {
    let best = null;
    let least = Infinity;
    for (const [rank, by] of candidates(width, height).entries()) {
      const box = { x: dot.x + by.x, y: dot.y + by.y, width, height };
      let cost = rank * 4 + outside(box, bounds) * 60;
      for (const other of placed.values()) cost += overlap(box, other) * 3;
      for (const other of dots) if (other.code !== code) cost += overlap(box, other) * 2;
      if (cost < least) [best, least] = [box, cost];
    }
    if (best) placed.set(code, best);
  }
  return placed;
}
