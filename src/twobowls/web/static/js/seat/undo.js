// @ts-check
// The way back, pad by pad. Undoing makes a new record with what was there before, so the
// history stays whole. Kept for as long as the page is open.

/** @typedef {{bowl: string, sensation: string, round: string, intensity: number | null, liking: number | null, kept?: boolean, together?: string}} Step
 *   those that were done by one tap bear one name in `together` */

const MOST_STEPS = 200;

export class Undo {
  /** @type {Step[]} */
  #steps = [];

  /** @param {Step} step what was there before a move */
  push(step) {
    this.#steps.push(step);
    if (this.#steps.length > MOST_STEPS) this.#steps.shift();
  }

  /** @param {string | null} sensation @param {string | null} round @returns {Step | undefined} the last one on this pad */
  last(sensation, round) {
    return [...this.#steps].reverse().find((step) => step.sensation === sensation && step.round === round);
  }

  /** @param {string | null} sensation @param {string | null} round @returns {Step[]} all of the last tap, the latest first */
  takeTogether(sensation, round) {
    const step = this.take(sensation, round);
    if (!step) return [];
    const steps = [step];
    while (step.together && this.last(sensation, round)?.together === step.together) steps.push(/** @type {Step} */ (this.take(sensation, round)));
    return steps;
  }

  /** @param {string | null} sensation @param {string | null} round @returns {Step | undefined} */
  take(sensation, round) {
    const step = this.last(sensation, round);
    if (step) this.#steps.splice(this.#steps.lastIndexOf(step), 1);
    return step;
  }
}
