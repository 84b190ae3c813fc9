// @ts-check
// Which screen a seat sees, and what may be marked. Pure.

/**
 * @typedef {import("./types.js").TableState} TableState
 * @typedef {import("./types.js").Round} Round
 * @typedef {import("./types.js").Sensation} Sensation
 * @typedef {import("./store.js").View} View
 * @typedef {"loading" | "unknown" | "welcome" | "waiting" | "tasting" | "closed"} Screen
 */

/**
 * @param {TableState | null} table
 * @param {{welcomed: boolean, unknown: boolean}} seat
 * @returns {Screen}
 */
export function screenOf(table, { welcomed, unknown }) {
  if (unknown) return "unknown";
  if (!table) return "loading";
  const { state } = table.tasting;
  if (state === "closed" || state === "revealed") return "closed";
  if (!welcomed) return "welcome";
  return state === "open" && table.round !== null ? "tasting" : "waiting";
}

/**
 * Rounds that can be marked: those called so far. One may go back, never ahead.
 * @param {TableState} table
 * @returns {Round[]}
 */
export function openRounds({ rounds, round }) {
  const current = rounds.findIndex(({ key }) => key === round);
  return rounds.slice(0, current + 1);
}

/**
 * @param {Sensation[]} sensations
 * @param {Round | undefined} round
 * @param {Record<string, string[]>} [asked] keys by round; a table kept from an older laptop has none
 * @returns {Sensation[]} the pads of a round: where nothing is tasted, the aroma alone
 */
export function sensationsIn(sensations, round, asked) {
  const keys = round && asked?.[round.key];
  if (keys) return sensations.filter(({ key }) => keys.includes(key));
  return round?.kind === "aroma" ? sensations.filter(({ kind }) => kind === "aroma") : sensations;
}

/**
 * A view of things that there are: the host may go back to a round before.
 * @param {TableState} table
 * @param {View} view
 * @returns {View}
 */
export function settledView(table, view) {
  const round = openRounds(table).some(({ key }) => key === view.round) ? view.round : table.round;
  const flight = table.flights[view.flight] ? view.flight : 0;
  const pads = sensationsIn(table.sensations, table.rounds.find(({ key }) => key === round), table.asked);
  const sensation = pads.some(({ key }) => key === view.sensation) ? view.sensation : (pads[0]?.key ?? null);
  const bowl = view.bowl !== null && table.flights[flight]?.includes(view.bowl) ? view.bowl : null;
  return { ...view, round, flight, sensation, bowl };
}

/**
 * Rounds before one, in which a sensation is judged too: the stations of a trail.
 * @param {TableState} table
 * @param {string} round
 * @param {Sensation} sensation
 * @returns {string[]} keys, oldest first
 */
export function earlierRounds({ rounds, asked }, round, sensation) {
  const place = rounds.findIndex(({ key }) => key === round);
  return rounds.slice(0, Math.max(0, place)).filter((each) => sensationsIn([sensation], each, asked).length).map(({ key }) => key);
}
