// @ts-check
// What the seat says about where things are saved, and how it names a record. Pure.

/**
 * @typedef {import("./types.js").SeatRecord} SeatRecord
 * @typedef {import("./types.js").TableState} TableState
 */

/**
 * @param {{waiting: number, refused: number, reachable: boolean, unknown?: boolean, full?: boolean, keeps: "indexeddb" | "localstorage" | "memory"}} saved
 * @returns {string}
 */
export function savedWords({ waiting, refused, reachable, unknown = false, full = false, keeps }) {
  const parts = [];
  if (waiting) parts.push(`${waiting} waiting on this phone`);
  else if (!refused && !unknown) parts.push("All saved on the laptop");
  if (refused) parts.push(`${refused} not accepted`);
  if (unknown) parts.push("the laptop does not know this seat");
  if (full) parts.push("the laptop cannot save now, please tell the host");
  if (!reachable) parts.push("laptop out of reach");
  if (keeps === "memory" && waiting) parts.push("keep this page open until all is saved");
  return parts.join(" · ");
}

/**
 * @param {{done: number, of: number}} progress
 * @param {boolean} current whether the round is the one the table is at
 * @returns {string}
 */
export function progressWords({ done, of }, current) {
  if (done < of) return `${done} of ${of} placed in this round.`;
  return current ? "All placed in this round. Change what you like until the host goes on." : "All placed in this round.";
}

/**
 * @param {string} viewed the name of an earlier round, gone back to
 * @param {string} called the name of the round that the table is at
 * @returns {string}
 */
export const backWords = (viewed, called) => `Marks now go to the round “${viewed}” again. The table is at ${called}.`;

/**
 * @param {SeatRecord} record
 * @param {TableState | null} table
 * @returns {string} "417, acidity, Hot"
 */
export function recordWords(record, table) {
  const round = table?.rounds.find(({ key }) => key === record.round)?.name ?? record.round;
  const name = (/** @type {string} */ key) => (table?.sensations.find((each) => each.key === key)?.name ?? key).toLowerCase();
  if (record.kind === "mark") return `${record.bowl}, ${name(record.sensation)}, ${round}`;
  if (record.kind === "pick") return `${record.bowl_a} or ${record.bowl_b}, ${name(record.sensation)}, ${round}`;
  if (record.kind === "word") return `${record.bowl}, the word ${record.term || record.family}`;
  return `${record.bowl}, note`;
}
