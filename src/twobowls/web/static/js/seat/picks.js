// @ts-check
// Which pairs of bowls sit so close on a pad that it is worth asking about them. Pure.

import { pickKey } from "./records.js";

/**
 * @typedef {{code: string, intensity: number | null, liking: number | null}} Placed
 * @typedef {"more" | "better"} Question
 * @typedef {{a: string, b: string, question: Question, answer: string | null}} OpenPick
 */

/** Closer than this on both scales together (0-100 each), two bowls are hard to tell apart. */
export const CLOSE = 12;

/** Unanswered pairs that are asked about at one time. */
export const MOST_PAIRS = 2;

/**
 * Pairs that sit close, the closest first; ties in the order of the tokens.
 * @param {Placed[]} tokens
 * @param {number} [reach]
 * @returns {Array<{a: string, b: string, apart: number}>}
 */
export function closePairs(tokens, reach = CLOSE) {
  const placed = tokens.filter(({ intensity, liking }) => intensity !== null && liking !== null);
  return placed
    .flatMap((a, place) => placed.slice(place + 1).map((b) => ({
      a: a.code,
      b: b.code,
      apart: Math.hypot(Number(a.intensity) - Number(b.intensity), Number(a.liking) - Number(b.liking)),
    })))
    .filter(({ apart }) => apart <= reach)
    .sort((one, other) => one.apart - other.apart);
}

/**
 * The questions to show under a pad: those answered before, then open ones, so that no bowl is
 * in two open pairs at once and at most `most` pairs are open.
 * @param {Placed[]} tokens
 * @param {Map<string, {answer: string}>} picks
 * @param {string} sensation
 * @param {string} round
 * @param {number} [most]
 * @returns {OpenPick[]}
 */
export function questionsFor(tokens, picks, sensation, round, most = MOST_PAIRS) {
  /** @type {OpenPick[]} */
  const shown = [];
  /** @type {Set<string>} */
  const busy = new Set();
  let open = 0;
  for (const { a, b } of closePairs(tokens)) {
    const both = /** @type {Question[]} */ (["more", "better"]).map((question) => ({
      a, b, question, answer: picks.get(pickKey(a, b, sensation, round, question))?.answer ?? null,
    }));
    const unanswered = both.some(({ answer }) => answer === null);
    if (unanswered && (open >= most || busy.has(a) || busy.has(b))) {
      shown.push(...both.filter(({ answer }) => answer !== null));
      continue;
    }
    if (unanswered) {
      open += 1;
      busy.add(a).add(b);
    }
    shown.push(...both);
  }
  return shown;
}

/** @type {Record<string, {more: string, better: string}>} */
const WORDING = {
  aroma: { more: "Which has more aroma", better: "Which aroma do you like better" },
  aftertaste: { more: "Which has the stronger aftertaste", better: "Which aftertaste do you like better" },
  verdict: { more: "Which comes across stronger", better: "Which do you like better" },
};

/**
 * @param {{key: string, name: string}} sensation
 * @param {Question} question
 * @param {string} a
 * @param {string} b
 * @returns {string}
 */
export function questionText({ key, name }, question, a, b) {
  const plain = name.toLowerCase();
  const words = WORDING[key] ?? { more: `Which has more ${plain}`, better: `Whose ${plain} do you like better` };
  return `${words[question]}, ${a} or ${b}?`;
}
