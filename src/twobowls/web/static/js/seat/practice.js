// @ts-check
// The practice pad's three hints, one at a time: a small state machine. Pure.

/** Two things that everybody has tasted. Not codes, so that nobody takes them for bowls. */
export const PRETEND = ["lemon", "honey"];

export const PRACTICE_SENSATION = { key: "practice", name: "Sweetness", low: "not sweet", high: "very sweet" };

/**
 * @typedef {{step: 0 | 1 | 2 | 3, places: Record<string, {intensity: number | null, liking: number | null}>}} Practice
 */

/** @returns {Practice} */
export const beginPractice = () => ({ step: 0, places: Object.fromEntries(PRETEND.map((code) => [code, { intensity: null, liking: null }])) });

const HINTS = [
  "How sweet is a wedge of lemon, and do you like it? Tap lemon’s place: further right is sweeter, further up is liked more.",
  "Now a spoon of honey. This time drag it: put a finger on honey and carry it to its place.",
  "Changed your mind? Move either one again. Side by side is the idea: they show how two bowls compare.",
  "That is all there is to it. Nothing from this practice is kept.",
];

/** @param {Practice} practice */
export const hintOf = ({ step }) => HINTS[step];

/**
 * @param {Practice} practice
 * @param {string} code
 * @param {{intensity: number | null, liking: number | null}} place
 * @returns {Practice}
 */
export function practised(practice, code, place) {
  const places = { ...practice.places, [code]: place };
  const placed = Object.values(places).filter(({ intensity }) => intensity !== null).length;
  const moved = practice.places[code].intensity !== null && place.intensity !== null;
  const step = placed < 2 ? /** @type {0 | 1} */ (placed) : moved ? 3 : 2;
  return { step: /** @type {Practice["step"]} */ (Math.max(practice.step, step)), places };
}

/** @param {Practice} practice the tokens of the practice pad */
export const practiceTokens = ({ places, step }) => PRETEND.map((code, place) => ({ code, ...places[code], trail: [], next: place === step }));
