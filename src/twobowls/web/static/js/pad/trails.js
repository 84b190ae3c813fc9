// @ts-check
// The faint way of a token from round to round.

/**
 * @typedef {import("./geometry.js").Point} Point
 */

/** @param {number} value */
const short = (value) => String(Math.round(value * 10) / 10);

/**
 * SVG path data through the points in order; empty when there is no way to show.
 * @param {Point[]} points
 * @returns {string}
 */
export function trailPath(points) {
  if (points.length < 2) return "";
  return points.map(({ x, y }, index) => `${index ? "L" : "M"}${short(x)} ${short(y)}`).join(" ");
}

/**
 * How strongly a ghost shows: the round before the current one most, older ones less.
 * @param {number} index of the ghost, oldest first
 * @param {number} count of ghosts
 * @returns {number} opacity
 */
export function ghostOpacity(index, count) {
  const age = count - 1 - index;
  return Math.max(0.3, 0.75 - 0.2 * age);
}
