// @ts-check
// Empties the outbox: batches, one request at a time, again and again until the laptop has
// confirmed everything. Sending twice is harmless; the laptop knows a record by its id.

import { ApiError } from "./api.js";
import { backoff } from "./backoff.js";

export const BATCH = 100;

/**
 * @typedef {object} Means
 * @property {import("./outbox.js").Outbox} outbox
 * @property {(records: import("./types.js").SeatRecord[]) => Promise<import("./types.js").Receipt>} send
 * @property {(receipt: import("./types.js").Receipt) => void} heard the laptop has confirmed or refused
 * @property {(trouble: import("./api.js").Trouble | null) => void} state whether the laptop can be reached
 * @property {(failures: number) => number} [wait]
 */

export class Sender {
  #means;
  #running = false;
  #failures = 0;
  /** @type {any} */
  #timer = null;

  /** @param {Means} means */
  constructor(means) {
    this.#means = means;
  }

  /** Something is waiting, or the laptop may be back: try now. @returns {Promise<void>} */
  async kick() {
    clearTimeout(this.#timer);
    if (this.#running) {
      this.#failures = 0; // should that fail, it is tried again soon: the network may be back
      return;
    }
    this.#running = true;
    try {
      while (this.#means.outbox.waiting.length) await this.#step(this.#means.outbox.waiting.slice(0, BATCH));
    } catch (error) {
      this.#again(error);
    } finally {
      this.#running = false;
    }
  }

  /** @param {import("./types.js").SeatRecord[]} batch */
  async #step(batch) {
    const receipt = await this.#deliver(batch);
    const known = new Set([...receipt.saved, ...receipt.refused.map(({ id }) => id)]);
    await this.#means.outbox.settle(receipt.saved, receipt.refused);
    this.#failures = 0;
    this.#means.state(null);
    this.#means.heard(receipt);
    if (!batch.some(({ id }) => known.has(id))) throw new ApiError("away", "The laptop confirmed nothing.");
  }

  /**
   * A batch that cannot be read is sent record by record, so that one bad one spoils no other.
   * @param {import("./types.js").SeatRecord[]} batch
   * @returns {Promise<import("./types.js").Receipt>}
   */
  async #deliver(batch) {
    try {
      return await this.#means.send(batch);
    } catch (error) {
      if (!(error instanceof ApiError) || error.trouble !== "spoilt") throw error;
      if (batch.length > 1) return this.#deliver(batch.slice(0, Math.ceil(batch.length / 2)));
      return { saved: [], refused: [{ id: batch[0].id, error: error.message }], now_ms: 0 };
    }
  }

  /** @param {unknown} error */
  #again(error) {
    this.#failures += 1;
    this.#means.state(error instanceof ApiError ? error.trouble : "away");
    this.#timer = setTimeout(() => this.kick(), (this.#means.wait ?? backoff)(this.#failures));
  }
}
