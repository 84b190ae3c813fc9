// @ts-check
// The host's time on this phone. Runs on the monotonic clock from the last time the laptop told
// us, so that a phone whose own clock is wrong, or jumps, does no harm.

/** Answers slower than this say too little about the time; used only when there is no better. */
const SLOW_MS = 2000;

/** A difference of the two clocks while hidden that means: the phone slept. */
const SLEPT_MS = 2000;

/** @typedef {{mono: number, wall: number}} Moment by the monotonic clock, and by the phone's own */

/** How long the monotonic clock stood still, as on some phones that sleep. @param {Moment} from @param {Moment} to */
function sleptBetween(from, to) {
  const more = to.wall - from.wall - (to.mono - from.mono);
  return more > SLEPT_MS ? more : 0;
}

export class HostClock {
  /** @type {{host: number, mono: number, trip: number} | null} */
  #set = null;
  #last = 0;
  /** @type {Moment | null} */
  #hid = null;
  #mono;
  #wall;

  /**
   * @param {() => number} [mono] monotonic milliseconds
   * @param {() => number} [wall] the phone's own clock
   */
  constructor(mono = () => performance.now(), wall = () => Date.now()) {
    this.#mono = mono;
    this.#wall = wall;
  }

  /** @returns {Moment} now */
  moment() {
    return { mono: this.#mono(), wall: this.#wall() };
  }

  /**
   * The laptop said that it was `hostMs` at some moment between asking and hearing. An answer that
   * lay on the phone while it slept was long on its way.
   * @param {number} hostMs
   * @param {Moment} asked
   * @param {Moment} [heard]
   */
  sync(hostMs, asked, heard = this.moment()) {
    const trip = heard.mono - asked.mono + sleptBetween(asked, heard);
    if (this.#set && trip > SLOW_MS && trip > this.#set.trip) return;
    this.#set = { host: hostMs + trip / 2, mono: heard.mono, trip };
    if (this.#hid) this.#hid = heard; // what it slept before is in this time already
  }

  /** Go on from a remembered state, before the laptop could be reached. @param {number} offset host minus wall */
  guess(offset) {
    if (!this.#set) this.#set = { host: this.#wall() + offset, mono: this.#mono(), trip: Infinity };
  }

  /** Host minus wall, to remember. */
  get offset() {
    return this.now() - this.#wall();
  }

  /** @param {number} [at] monotonic; now, if none is given @returns {number} the host's time then, milliseconds */
  now(at = this.#mono()) {
    if (!this.#set) return this.#wall() - (this.#mono() - at);
    return this.#set.host + (at - this.#set.mono);
  }

  /** An instant for a new record: never before one that was given out already. @param {number} [at] monotonic, when it was made @returns {number} */
  stamp(at) {
    this.#last = Math.max(Math.round(this.now(at)), this.#last + 1);
    return this.#last;
  }

  /** Records known from elsewhere are in the past too. @param {number} atMs */
  passed(atMs) {
    this.#last = Math.max(this.#last, atMs);
  }

  hidden() {
    this.#hid = this.moment();
  }

  /**
   * The page is seen again. Some phones stop the monotonic clock while they sleep; what the wall
   * clock gained meanwhile is added until the laptop tells the time again.
   */
  shown() {
    if (!this.#hid || !this.#set) return;
    const slept = sleptBetween(this.#hid, this.moment());
    this.#hid = null;
    if (slept) this.#set = { ...this.#set, host: this.#set.host + slept, trip: slept };
  }
}
