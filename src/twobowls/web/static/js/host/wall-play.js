// @ts-check
// In what order the pads fill in on the wall, and what stands on one at each step. Pure.

/**
 * @typedef {[number, number]} Place intensity and liking
 * @typedef {{key: string, name: string, low: string, high: string, rounds: Record<string, Record<string, Place[]>>}} Pad
 * @typedef {{code: string, coffee: string}} Bowl
 * @typedef {{state: string, bowls: Bowl[], pads: Pad[]}} Marks
 * @typedef {{pad: string, round: string}} Step
 * @typedef {{intensity: number, liking: number}} Point
 */

/**
 * Every pad in turn, each through the rounds in which it was marked.
 * @param {Pad[]} pads
 * @param {Array<{key: string}>} rounds
 * @returns {Step[]}
 */
export function stepsOf(pads, rounds) {
  return pads.flatMap((pad) => roundsOf(pad, rounds).map((round) => ({ pad: pad.key, round })));
}

/** @param {Pad} pad @param {Array<{key: string}>} rounds @returns {string[]} those with marks, in order */
export const roundsOf = (pad, rounds) => rounds.map(({ key }) => key).filter((key) => pad.rounds[key]);

/** @param {Place[]} places @returns {Point | null} the plain mean */
export function meanOf(places) {
  if (!places.length) return null;
  const sum = places.reduce(([x, y], [i, l]) => [x + i, y + l], [0, 0]);
  return { intensity: sum[0] / places.length, liking: sum[1] / places.length };
}

/**
 * Where a bowl's means went, round by round up to one.
 * @param {Pad} pad
 * @param {Array<{key: string}>} rounds
 * @param {string} upTo
 * @param {string} code
 * @returns {Point[]} oldest first; empty for a bowl that nobody has marked yet
 */
export function wayOf(pad, rounds, upTo, code) {
  const keys = roundsOf(pad, rounds);
  return keys.slice(0, keys.indexOf(upTo) + 1).flatMap((key) => meanOf(pad.rounds[key][code] ?? []) ?? []);
}

/**
 * The step before or after; the ends hold.
 * @param {Step[]} steps
 * @param {Step} at
 * @param {number} by
 * @returns {Step}
 */
export function stepFrom(steps, at, by) {
  const place = steps.findIndex(({ pad, round }) => pad === at.pad && round === at.round);
  return steps[Math.min(steps.length - 1, Math.max(0, place + by))] ?? at;
}

/** What a label has room for. */
const LONGEST = 14;

/** The words on a bowl's label: its code, and after the reveal its coffee. @param {Bowl} bowl @returns {string} */
export function labelOf({ code, coffee }) {
  if (!coffee) return code;
  return coffee.length > LONGEST ? `${coffee.slice(0, LONGEST - 1).trimEnd()}…` : coffee;
}

/** The same for ears, which do not see the tone of the dot. @param {Bowl} bowl @returns {string} */
export const spokenLabel = ({ code, coffee }) => (coffee ? `${coffee} ${code}` : code);
