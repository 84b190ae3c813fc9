// @ts-check
// The table as it was seen last, kept on the phone for a reload while the laptop is away.

const EVERY_MS = 500;

export class Snapshot {
  #storage;
  #store;
  #clock;
  /** @type {any} */
  #timer = null;

  /**
   * @param {import("./storage.js").Storage} storage
   * @param {import("./store.js").SeatStore} store
   * @param {import("./clock.js").HostClock} clock
   */
  constructor(storage, store, clock) {
    this.#storage = storage;
    this.#store = store;
    this.#clock = clock;
  }

  /** Something has changed: keep it now, and once more when the next changes have come in. */
  remember() {
    if (this.#timer || !this.#store.table) return;
    this.#keep();
    this.#timer = setTimeout(() => {
      this.#timer = null;
      this.#keep();
    }, EVERY_MS);
  }

  #keep() {
    const { table, records } = this.#store;
    if (table) this.#storage.remember({ ...table, records, offset: this.#clock.offset }).catch(() => {});
  }

  /** @returns {Promise<import("./types.js").SeatRecord[]>} the records that were known when it was kept */
  async records() {
    return (await this.#kept())?.records ?? [];
  }

  /** @returns {Promise<any>} */
  #kept() {
    return this.#storage.recall().catch(() => null);
  }

  /** Show what was kept, if there is anything and nothing newer. */
  async recall() {
    const table = await this.#kept();
    if (!table || this.#store.table) return;
    this.#clock.guess(table.offset ?? 0);
    for (const { at_ms } of table.records) this.#clock.passed(at_ms);
    this.#store.setTable(table);
  }
}
