// @ts-check
// One record a settled move: keys and sliders change a token many times, and only the place
// where it comes to rest counts. It was made when the token moved last, not when it had rested.

/**
 * @typedef {{intensity: number | null, liking: number | null}} Standing
 */

/** How long a token must rest. */
export const REST_MS = 700;

export class Settler {
  /** @type {Map<string, {before: Standing, after: Standing, moved: number, timer: any}>} */
  #moving = new Map();
  #done;
  #rest;
  #now;

  /**
   * @param {(code: string, before: Standing, after: Standing, moved: number) => void} done
   * @param {number} [rest] milliseconds
   * @param {() => number} [now] monotonic milliseconds
   */
  constructor(done, rest = REST_MS, now = () => performance.now()) {
    this.#done = done;
    this.#rest = rest;
    this.#now = now;
  }

  /** @param {string} code @returns {Standing | undefined} where the token is meanwhile */
  at(code) {
    return this.#moving.get(code)?.after;
  }

  /** @param {string} code @param {Standing} before @param {Standing} after */
  move(code, before, after) {
    const moving = this.#moving.get(code);
    clearTimeout(moving?.timer);
    this.#moving.set(code, {
      before: moving?.before ?? before,
      after,
      moved: this.#now(),
      timer: setTimeout(() => this.settle(code), this.#rest),
    });
  }

  /** @param {string} code */
  settle(code) {
    const moving = this.#moving.get(code);
    if (!moving) return;
    clearTimeout(moving.timer);
    this.#moving.delete(code);
    const { before, after, moved } = moving;
    if (before.intensity !== after.intensity || before.liking !== after.liking) this.#done(code, before, after, moved);
  }

  /** Settle everything now: the page is going away, or another pad comes. */
  flush() {
    for (const code of [...this.#moving.keys()]) this.settle(code);
  }
}
