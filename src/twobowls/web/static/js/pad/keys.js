// @ts-check
// What a key does to a token: arrows move it on both scales, Delete puts it back in the tray, Enter
// leaves it for the next bowl.

import { nudge } from "./geometry.js";

const STEP = 2;
const STRIDE = 10;

/** @type {Record<string, [number, number]>} */
const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowDown: [0, -1], ArrowUp: [0, 1] };

/** @param {{key: string, shiftKey: boolean}} event @returns {number} bowls to go on by; 0 for another key */
export const stepOf = ({ key, shiftKey }) => (key === "Enter" ? (shiftKey ? -1 : 1) : 0);

/**
 * @param {{key: string, shiftKey: boolean}} event
 * @param {{intensity: number | null, liking: number | null}} standing
 * @returns {{scale: "intensity" | "liking" | null, intensity: number | null, liking: number | null} | null}
 *   the new standing and the scale that changed, or null for a key that means nothing here
 */
export function keyMove({ key, shiftKey }, standing) {
  if (key === "Delete" || key === "Backspace") return { scale: null, intensity: null, liking: null };
  const way = WAYS[key];
  if (!way) return null;
  const step = shiftKey ? STRIDE : STEP;
  const from = { intensity: standing.intensity ?? 50, liking: standing.liking ?? 50 };
  return { scale: way[0] ? "intensity" : "liking", ...nudge(from, way[0] * step, way[1] * step) };
}
