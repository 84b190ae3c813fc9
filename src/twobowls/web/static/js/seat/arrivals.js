// @ts-check
// Whether another device of this seat has recorded something. The laptop counts the batches that
// come in for a seat; who has sent one itself knows its records, and has nothing to read. Pure.

/** @typedef {{arrivals: number, ids: string[]}} Arrived how many batches, and what is in the newest */

export class Arrivals {
  /** The count up to which everything is known here. */
  #seen = 0;
  /** The newest count heard since the table was last asked for. */
  #told = -Infinity;

  /** The table is being asked for. A laptop that was started anew counts from nothing again. */
  asked() {
    this.#told = -Infinity;
  }

  /** @param {number} count of a table @returns {boolean} whether it has all that was heard of meanwhile */
  holds(count) {
    return count >= this.#told;
  }

  /** The table has been read. @param {number} count */
  read(count) {
    this.#seen = count;
  }

  /**
   * @param {Arrived} news
   * @param {(id: string) => boolean} known
   * @returns {boolean} whether the table is to be read
   */
  hear({ arrivals, ids }, known) {
    this.#told = Math.max(this.#told, arrivals);
    const own = ids.length > 0 && ids.every(known);
    if (own && arrivals === this.#seen + 1) this.#seen = arrivals;
    return arrivals !== this.#seen;
  }
}
