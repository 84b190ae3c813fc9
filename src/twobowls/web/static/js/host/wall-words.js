// @ts-check
// What the wall says of a tasting as it stands: counts only, nobody's name. Pure.

/**
 * @typedef {import("./table.js").Bench} Bench
 * @typedef {{key: string, name: string, target: number | null}} WallRound `target` in degrees Celsius
 */

/** Nobody sees another's marks before the tasting has closed. @param {string} state */
export const showsPads = (state) => state === "closed" || state === "revealed";

/**
 * @param {string} state
 * @param {string} [round] its name
 * @returns {string}
 */
export function headline(state, round) {
  if (state === "planned") return "Take a seat";
  if (state === "open") return round ?? "Soon";
  return state === "closed" ? "What the table marked" : "What was in the bowls";
}

/**
 * Whoever has recorded nothing and has the page open nowhere has not come, or has gone again.
 * @param {Pick<Bench, "state" | "round" | "seats" | "expected">} bench
 * @returns {{seats: string, marks: string, share: number | null}} share of all places of this round
 */
export function progressOf({ state, round, seats: all, expected }) {
  const seats = all.filter(({ taking_part }) => taking_part);
  const taken = seats.length === 1 ? "1 seat taken" : `${seats.length || "No"} seats taken`;
  if (state !== "open" || round === null || !seats.length) return { seats: showsPads(state) ? "" : taken, marks: "", share: null };
  const most = expected[round] ?? 0;
  const marked = seats.map((seat) => seat.marked[round] ?? 0);
  const done = marked.filter((count) => count >= most).length;
  const places = most * seats.length;
  const sum = marked.reduce((total, count) => total + count, 0);
  return {
    seats: done === seats.length ? "All seats are done" : `${done} of ${seats.length} ${seats.length === 1 ? "seat" : "seats"} done`,
    marks: `${sum} of ${places} places marked`,
    share: places ? sum / places : null,
  };
}

/** By so much a bowl may be warmer than its round and still be right for it. */
const NEAR_C = 0.5;

/**
 * How warm a bowl is for the round that runs.
 * @param {number | null} celsius
 * @param {WallRound[]} rounds in the order of the tasting
 * @param {string | null} current key of the round that runs
 * @returns {string} empty where nothing is known, or the round is not tied to a temperature
 */
export function warmthWords(celsius, rounds, current) {
  const round = rounds.find(({ key }) => key === current);
  if (celsius === null || !round || round.target === null) return "";
  const { name, target } = round;
  if (celsius > target + NEAR_C) return `still above ${Math.round(target)} °C`;
  const cooler = Math.max(...rounds.map((each) => each.target ?? -Infinity).filter((each) => each < target));
  return celsius < cooler ? `below ${Math.round(cooler)} °C by now` : `right for ${name}`;
}
