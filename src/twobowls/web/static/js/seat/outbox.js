// @ts-check
// Records that the laptop has not confirmed. Each is written down on the phone before anything
// is sent, and forgotten only when the laptop has said that it is saved. Refused ones are kept,
// with the reason.

import { openJournal } from "./journal.js";

/**
 * @typedef {import("./storage.js").Entry} Entry
 * @typedef {import("./storage.js").Storage} Storage
 * @typedef {import("./types.js").SeatRecord} SeatRecord
 */

export class Outbox {
  /** @type {Map<string, Entry>} */
  #entries = new Map();
  /** Saved or let go while this page is open: what was read from the phone before must not bring them back. */
  #done = new Set();
  #storage;
  #seat;
  #journal;
  /** @type {Storage["keeps"]} */
  keeps;

  /** @param {Storage} storage @param {string} seat key @param {import("./journal.js").Journal} [journal] */
  constructor(storage, seat, journal = openJournal(seat, null)) {
    this.#journal = journal;
    this.#storage = storage;
    this.#seat = seat;
    this.keeps = storage.keeps;
  }

  /** Read what an earlier page, or another tab, has left. */
  async load() {
    const kept = await this.#storage.all().catch(() => /** @type {Entry[]} */ ([])); // what the journal has is read all the same
    for (const entry of kept) if (this.#isNew(entry)) this.#entries.set(entry.id, entry);
    for (const record of this.#journal.left()) if (this.#isNew(record)) await this.add(record);
  }

  /** @param {{id: string}} what */
  #isNew({ id }) {
    return !this.#entries.has(id) && !this.#done.has(id);
  }

  /** @returns {SeatRecord[]} everything not confirmed, refused ones included */
  get records() {
    return [...this.#entries.values()].map(({ record }) => record);
  }

  /** @returns {SeatRecord[]} what is still to be sent, oldest first */
  get waiting() {
    return [...this.#entries.values()].filter(({ error }) => error === null).map(({ record }) => record).sort((a, b) => a.at_ms - b.at_ms);
  }

  /** @returns {Array<{record: SeatRecord, error: string}>} */
  get refused() {
    return [...this.#entries.values()].flatMap(({ record, error }) => (error === null ? [] : [{ record, error }]));
  }

  /** Write a new record down. @param {SeatRecord} record */
  async add(record) {
    const entry = { seat: this.#seat, id: record.id, record, error: null };
    this.#done.delete(record.id);
    this.#entries.set(record.id, entry);
    this.#journal.keep(record);
    await this.#keep(entry);
  }

  /** The laptop had confirmed these and has lost them since: they wait once more. @param {SeatRecord[]} records */
  async again(records) {
    for (const record of records) if (!this.#entries.has(record.id)) await this.add(record);
  }

  /** The host has opened the tasting again: what came too late may be taken now. */
  async retry() {
    const refused = [...this.#entries.values()].filter(({ error }) => error !== null);
    await Promise.all(refused.map((entry) => this.#keep({ ...entry, error: null })));
  }

  /** Another tab has written it down already. @param {SeatRecord[]} records */
  adopt(records) {
    for (const record of records) {
      if (this.#isNew(record)) this.#entries.set(record.id, { seat: this.#seat, id: record.id, record, error: null });
    }
  }

  /**
   * The laptop has answered.
   * @param {string[]} saved
   * @param {Array<{id: string, error: string}>} refused
   */
  async settle(saved, refused) {
    for (const id of saved) {
      this.#entries.delete(id);
      this.#done.add(id);
      this.#journal.drop(id);
    }
    const kept = refused.map(({ id, error }) => {
      const entry = this.#entries.get(id);
      return entry && this.#keep({ ...entry, error });
    });
    // What cannot be removed is sent once more after a reload, and the laptop knows it by its id.
    await Promise.all([...kept, this.#storage.remove(saved).catch(() => {})]);
  }

  /** The taster has read the reasons. @param {string[]} ids */
  async dismiss(ids) {
    await this.settle(ids, []);
  }

  /** @param {Entry} entry */
  async #keep(entry) {
    this.#entries.set(entry.id, entry);
    try {
      await this.#storage.put(entry);
      this.#journal.drop(entry.id);
    } catch {
      this.keeps = "memory";
    }
  }
}
