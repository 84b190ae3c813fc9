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

/** Pairs that a seat is asked about in one round, at most one of them on a pad. */
export const MOST_IN_ROUND = 6;

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

/** What is asked about a pair: on the verdict, which is better; elsewhere, which has more. @param {string} sensation @returns {Question} */
const questionOn = (sensation) => (sensation === "verdict" ? "better" : "more");

/** @param {string} round @param {string} sensation a pad whose question was put off */
export const laterKey = (round, sensation) => `${round} ${sensation}`;

/**
 * The question of a complete pad: about the pair that was asked about before, or else about the
 * closest one. Neither an answer nor putting it off brings up another pair. One question of a round
 * is kept for the verdict, whose near-ties teach most.
 * @param {Placed[]} tokens
 * @param {Map<string, import("./types.js").PickRecord>} picks
 * @param {string} sensation
 * @param {string} round
 * @param {string[]} [later] pads whose question was put off
 * @returns {OpenPick | null}
 */
export function questionFor(tokens, picks, sensation, round, later = []) {
  if (tokens.some(({ intensity, liking }) => intensity === null || liking === null)) return null;
  const asked = [...picks.values()].filter((pick) => pick.round === round);
  const here = asked.filter((pick) => pick.sensation === sensation && tokens.some(({ code }) => code === pick.bowl_a));
  const put = new Set([...asked.map((pick) => laterKey(round, pick.sensation)), ...later.filter((key) => key.startsWith(`${round} `))]);
  const close = closePairs(tokens);
  const known = (/** @type {string} */ a, /** @type {string} */ b) => here.some(({ bowl_a, bowl_b }) => [bowl_a, bowl_b].sort().join() === [a, b].sort().join());
  const most = MOST_IN_ROUND - (sensation === "verdict" || put.has(laterKey(round, "verdict")) ? 0 : 1);
  const free = put.has(laterKey(round, sensation)) || put.size < most;
  const pair = here.length ? close.find(({ a, b }) => known(a, b)) : free ? close[0] : undefined;
  if (!pair) return null;
  const { a, b } = pair;
  const question = questionOn(sensation);
  return { a, b, question, answer: picks.get(pickKey(a, b, sensation, round, question))?.answer ?? null };
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
