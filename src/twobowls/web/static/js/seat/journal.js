// @ts-check
// The moment between making a record and the database having it on disk. A page that is closed
// right then would lose it; localStorage takes it at once. What a last page left is taken over.

/** @typedef {import("./types.js").SeatRecord} SeatRecord */

/**
 * @typedef {object} Journal
 * @property {(record: SeatRecord) => void} keep
 * @property {(id: string) => void} drop it is in the database now
 * @property {() => SeatRecord[]} left
 */

/** @param {string} seat key @param {globalThis.Storage | null} local @returns {Journal} */
export function openJournal(seat, local) {
  const prefix = `twobowls:journal:${seat}:`;
  /** @template T @param {(local: globalThis.Storage) => T} work @param {T} otherwise @returns {T} */
  const attempt = (work, otherwise) => {
    try {
      return local ? work(local) : otherwise;
    } catch {
      return otherwise; // full or forbidden: the database has it a moment later
    }
  };
  return {
    keep: (record) => attempt((shelf) => shelf.setItem(prefix + record.id, JSON.stringify(record)), undefined),
    drop: (id) => attempt((shelf) => shelf.removeItem(prefix + id), undefined),
    left: () => attempt((shelf) => Array.from({ length: shelf.length }, (_, place) => shelf.key(place) ?? "")
      .filter((name) => name.startsWith(prefix)).map((name) => JSON.parse(shelf.getItem(name) ?? "null")).filter(Boolean), /** @type {SeatRecord[]} */ ([])),
  };
}

/** @returns {globalThis.Storage | null} null where the browser forbids it */
export function localShelf() {
  try {
    return localStorage;
  } catch {
    return null;
  }
}
