// @ts-check
// A laptop that went back to a backup may lack the newest seats. Their tasters join again; what
// this phone still has of the former seat then goes along to the new one.

import { ApiError, makeApi } from "./api.js";
import { localShelf, openJournal } from "./journal.js";
import { prune } from "./prune.js";
import { mergeRecords } from "./records.js";

/**
 * @typedef {import("./types.js").SeatRecord} SeatRecord
 * @typedef {import("./types.js").TableState} TableState
 */

/** The same table and the same name. @param {TableState} a @param {TableState} b */
export function isSameTaster(a, b) {
  const told = (/** @type {TableState} */ { tasting, seat, flights }) =>
    [tasting.name, seat.nickname.trim().toLowerCase(), ...flights.flat().sort()].join("|");
  return told(a) === told(b);
}

/** @param {string} seat key @returns {Promise<boolean>} whether the laptop says that there is no such seat */
async function isGone(seat, api = makeApi(seat)) {
  try {
    await api.table();
    return false;
  } catch (error) {
    return error instanceof ApiError && error.trouble === "unknown";
  }
}

/**
 * @param {import("./storage.js").Storage} storage
 * @param {TableState} table of the new seat
 * @param {(seat: string) => Promise<boolean>} [gone]
 * @param {globalThis.Storage | null} [local]
 * @returns {Promise<Array<{seat: string, records: SeatRecord[]}>>} former seats and what they had
 */
export async function formerSeats(storage, table, gone = isGone, local = localShelf()) {
  const found = [];
  for (const { seat, table: former } of await storage.others()) {
    if (!isSameTaster(former, table) || !(await gone(seat))) continue;
    const waiting = (await storage.all(seat)).map(({ record }) => record);
    found.push({ seat, records: mergeRecords(former.records, [...waiting, ...openJournal(seat, local).left()]) });
  }
  return found;
}

/**
 * What this phone has kept of other seats: taken along if the laptop has lost them, let go if all
 * of it is long over.
 * @param {import("./storage.js").Storage} storage
 * @param {TableState} table of the new seat
 * @param {number} now host's time, milliseconds
 * @param {(records: SeatRecord[]) => Promise<void>} take done when they are written down for the new seat
 */
export async function seeToOthers(storage, table, now, take) {
  for (const { seat, records } of await formerSeats(storage, table)) {
    await take(records);
    await storage.forget(seat);
  }
  await prune(storage, now);
}
