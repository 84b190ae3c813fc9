// @ts-check
// What was refused because it came too early or too late is sent again once the host has opened
// the tasting, or opened it again. A refusal may be heard after that, and a closing not at all.

export class SecondTry {
  #store;
  #outbox;
  #again;
  /** The table's version when what is refused was sent last. */
  #sentAt = -1;

  /**
   * @param {import("./store.js").SeatStore} store
   * @param {import("./outbox.js").Outbox} outbox
   * @param {() => void} again some of it waits once more
   */
  constructor(store, outbox, again) {
    this.#store = store;
    this.#outbox = outbox;
    this.#again = again;
  }

  /** Send, and note what the table was like then. @param {() => Promise<import("./types.js").Receipt>} send */
  async note(send) {
    const version = this.#store.table?.version ?? -1;
    const receipt = await send();
    if (receipt.refused.length) this.#sentAt = version;
    return receipt;
  }

  /** The table is another, or a refusal has come: once for each state of an open table. */
  look() {
    const { table } = this.#store;
    if (table?.tasting.state !== "open" || table.version === this.#sentAt || !this.#outbox.refused.length) return;
    this.#sentAt = table.version;
    this.#outbox.retry().then(this.#again);
  }
}
