// @ts-check
// The two scales in words, for readouts and screen readers. Bands of our own choosing.

import { isPlaced } from "./layout.js";

const STRENGTHS = [
  [8, "hardly there"],
  [25, "weak"],
  [42, "rather weak"],
  [58, "medium"],
  [75, "rather strong"],
  [92, "strong"],
  [Infinity, "very strong"],
];

const LIKINGS = [
  [8, "disliked very much"],
  [25, "disliked"],
  [45, "disliked a little"],
  [55.01, "neither liked nor disliked"],
  [75, "liked a little"],
  [92, "liked"],
  [Infinity, "liked very much"],
];

/**
 * @param {Array<Array<number|string>>} bands
 * @param {number} value
 */
const inBand = (bands, value) => String((bands.find(([below]) => value < Number(below)) ?? bands[bands.length - 1])[1]);

/** @param {number | null} value 0-100 @returns {string} */
export const strengthWords = (value) => (value === null ? "strength not judged" : inBand(STRENGTHS, value));

/** @param {number | null} value 0-100, neutral at 50 @returns {string} */
export const likingWords = (value) => (value === null ? "liking not judged" : inBand(LIKINGS, value));

/**
 * A token's standing as a sentence part: "417: acidity rather strong, liked a little".
 * @param {string} code
 * @param {string} sensation its name
 * @param {{intensity: number | null, liking: number | null}} place
 * @returns {string}
 */
export function placeWords(code, sensation, { intensity, liking }) {
  if (intensity === null && liking === null) return `${code}: not placed yet`;
  return `${code}: ${sensation.toLowerCase()} ${strengthWords(intensity)}, ${likingWords(liking)}`;
}

/**
 * The next bowl is chosen by itself; what is told is where the last one was put.
 * @param {string} sensation its name
 * @param {Array<{code: string, intensity: number | null, liking: number | null}>} tokens
 * @param {string | null} selected
 * @param {string | null} touched the bowl that the taster touched last
 */
export function readoutOf(sensation, tokens, selected, touched) {
  const last = tokens.find(({ code }) => code === touched);
  if (last && (isPlaced(last) || touched === selected)) return placeWords(last.code, sensation, last);
  return hintFor(tokens.find(({ code }) => code === selected)?.code, tokens.every(isPlaced));
}

/** Told once, when a keyboard comes to a bowl. */
export const KEYS = "Arrow keys move this bowl, Enter goes on to the next one.";

/** What to do next. @param {string | undefined} chosen @param {boolean} all stand @returns {string} */
export function hintFor(chosen, all) {
  if (chosen) return `${chosen} is next: tap where it belongs, or drag it there.`;
  return all ? "" : "Tap a bowl, then tap where it belongs. Or drag it there.";
}
