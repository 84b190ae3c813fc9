// @ts-check
// What the wall says of a tasting as it stands: counts only, nobody's name. Pure.

/** @typedef {import("./table.js").Bench} Bench */

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
 * @param {Pick<Bench, "state" | "round" | "seats" | "expected">} bench
 * @returns {{seats: string, marks: string, share: number | null}} share of all places of this round
 */
export function progressOf({ state, round, seats, expected }) {
  const taken = seats.length === 1 ? "1 seat taken" : `${seats.length || "No"} seats taken`;
  if (state !== "open" || round === null || !seats.length) return { seats: showsPads(state) ? "" : taken, marks: "", share: null };
  const most = expected[round] ?? 0;
  const marked = seats.map((seat) => seat.marked[round] ?? 0);
  const done = marked.filter((count) => count >= most).length;
  const all = most * seats.length;
  const sum = marked.reduce((total, count) => total + count, 0);
  return {
    seats: done === seats.length ? "All seats are done" : `${done} of ${seats.length} ${seats.length === 1 ? "seat" : "seats"} done`,
    marks: `${sum} of ${all} places marked`,
    share: all ? sum / all : null,
  };
}
