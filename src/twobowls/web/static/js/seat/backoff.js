// @ts-check
// How long to wait before trying again: twice as long each time, up to half a minute, a little
// different on every phone so that a room full of them does not knock all at once.

const FIRST_MS = 1000;
const LONGEST_MS = 30000;

/**
 * @param {number} failures in a row, from 1
 * @param {number} [chance] 0-1
 * @returns {number} milliseconds
 */
export function backoff(failures, chance = Math.random()) {
  const plain = Math.min(LONGEST_MS, FIRST_MS * 2 ** Math.min(10, Math.max(0, failures - 1)));
  return Math.round(plain * (0.75 + 0.5 * chance));
}
