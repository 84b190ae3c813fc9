// @ts-check
// Where things are on the pad: between the two scales (0-100) and pixels, and what a finger
// hits. Owns no element and no event.

/**
 * @typedef {{x: number, y: number}} Point pixels from the stage's top left corner
 * @typedef {{intensity: number, liking: number}} Place both on 0-100; liking is neutral at 50
 * @typedef {{size: number, inset: number}} Square side and inner margin in pixels
 */

/** How far from a token's dot or label a finger may land and still mean it (48 px targets). */
export const REACH_PX = 26;

/** How far a finger must travel before a press becomes a drag. */
export const DRAG_START_PX = 7;

/** How far above the finger a dragged token floats, so that the finger does not hide it. */
export const LIFT_PX = 44;

/** @param {number} value @param {number} low @param {number} high */
export const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

/** One decimal: finer than a finger can place. @param {number} value */
export const tidy = (value) => Math.round(clamp(value, 0, 100) * 10) / 10;

/**
 * @param {Place} place
 * @param {Square} square
 * @returns {Point}
 */
export function toPoint({ intensity, liking }, { size, inset }) {
  const span = size - 2 * inset;
  return { x: inset + (intensity / 100) * span, y: size - inset - (liking / 100) * span };
}

/**
 * The place under a point; points beyond the square count as its edge.
 * @param {Point} point
 * @param {Square} square
 * @returns {Place}
 */
export function toPlace({ x, y }, { size, inset }) {
  const span = size - 2 * inset;
  return { intensity: tidy(((x - inset) / span) * 100), liking: tidy(((size - inset - y) / span) * 100) };
}

/**
 * @param {Place} place
 * @param {number} strength steps to the right
 * @param {number} liking steps up
 * @returns {Place}
 */
export function nudge(place, strength, liking) {
  return { intensity: tidy(place.intensity + strength), liking: tidy(place.liking + liking) };
}

/** @param {Point} a @param {Point} b */
export const distance = (a, b) => Math.hypot(a.x - b.x, a.y - b.y);

/**
 * Distance from a point to a rectangle given by its centre; 0 inside.
 * @param {Point} point
 * @param {{x: number, y: number, width: number, height: number}} box
 */
export function distanceToBox(point, box) {
  const dx = Math.max(0, Math.abs(point.x - box.x) - box.width / 2);
  const dy = Math.max(0, Math.abs(point.y - box.y) - box.height / 2);
  return Math.hypot(dx, dy);
}

/**
 * The token that a finger means: the nearest by dot or label within reach, or null. A label
 * under the finger beats a nearby dot, because the label is what people aim at.
 * @param {Point} point
 * @param {Array<{code: string, dot: Point, label: {x: number, y: number, width: number, height: number}}>} targets
 * @param {number} [reach]
 * @returns {string | null}
 */
export function hit(point, targets, reach = REACH_PX) {
  let best = null;
  let nearest = reach;
  for (const { code, dot, label } of targets) {
    const away = Math.min(distance(point, dot), distanceToBox(point, label));
    if (away <= nearest) {
      best = code;
      nearest = away;
    }
  }
  return best;
}

/** A tap this near a label means the label; beside it, a bowl may still be put upon another's dot. */
export const LABEL_NEAR_PX = 3;

/**
 * The token whose label a tap means.
 * @param {Point} point
 * @param {Array<{code: string, label: {x: number, y: number, width: number, height: number}}>} targets
 * @returns {string | null}
 */
export function labelAt(point, targets) {
  let best = null;
  let nearest = LABEL_NEAR_PX;
  for (const { code, label } of targets) {
    const away = distanceToBox(point, label);
    if (away <= nearest) [best, nearest] = [code, away];
  }
  return best;
}

/**
 * Where the dragged dot is while the finger is at `now`. A mouse keeps the grip it took; under
 * a finger the dot rises to LIFT_PX above it during the first part of the way, without a jump.
 * @param {Point} start where the finger went down
 * @param {Point} now
 * @param {Point} dot where the dot was then
 * @param {boolean} touch
 * @returns {Point}
 */
export function dragged(start, now, dot, touch) {
  const grip = { x: dot.x - start.x, y: dot.y - start.y };
  if (!touch) return { x: now.x + grip.x, y: now.y + grip.y };
  const done = clamp(distance(start, now) / (2 * LIFT_PX), 0, 1);
  return {
    x: now.x + grip.x * (1 - done),
    y: now.y + grip.y * (1 - done) - LIFT_PX * done,
  };
}

/**
 * An ellipse of the two scales in pixels.
 * @param {{intensity: number, liking: number, rx: number, ry: number, angle?: number}} ellipse
 *   half axes on the 0-100 scales and the angle (degrees, anticlockwise) of the first of them
 * @param {Square} square
 */
export function ellipseBox({ intensity, liking, rx, ry, angle = 0 }, square) {
  const { x, y } = toPoint({ intensity, liking }, square);
  const scale = (square.size - 2 * square.inset) / 100;
  return { x, y, rx: rx * scale, ry: ry * scale, rotate: -angle || 0 };
}
