// @ts-check
// What this phone has kept of other seats is let go when nobody can need it any more: all of it is
// on the laptop, and the laptop's backups do not reach so far back. What was not sent, was refused
// or is half typed stays, however old.

import { localShelf, openJournal } from "./journal.js";
import { openMemory } from "./memory.js";

/** A laptop keeps the backups of 14 days that had any; twice as long, and a little. */
export const LONG_MS = 30 * 24 * 3600 * 1000;

/**
 * @param {import("./storage.js").Storage} storage
 * @param {number} now host's time, milliseconds
 * @param {globalThis.Storage | null} [local]
 */
export async function prune(storage, now, local = localShelf()) {
  for (const { seat, table } of await storage.others()) {
    const memory = openMemory(seat, local);
    const unsent = (await storage.all(seat)).length || openJournal(seat, local).left().length || Object.keys(memory.drafts()).length;
    if (unsent || !(now - table?.now_ms > LONG_MS)) continue;
    await storage.forget(seat);
    memory.forget();
  }
}
