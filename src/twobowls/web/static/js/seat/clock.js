// @ts-check
// The host's time on this phone. Runs on the monotonic clock from the last time the laptop told
// us, so that a phone whose own clock is wrong, or jumps, does no harm.

/** Answers slower than this say too little about the time; used only when there is no better. */
const SLOW_MS = 2000;

/** A difference of the two clocks while hidden that means: the phone slept. */
const SLEPT_MS = 2000;

export class HostClock {
  /** @type {{host: number, mono: number, trip: number} | null} */
  #set = null;
  #last = 0;
  /** @type {{mono: number, wall: number} | null} */
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

  /**
   * The laptop said that it was `hostMs` at some moment between asking and hearing.
   * @param {number} hostMs
   * @param {number} asked monotonic
   * @param {number} heard monotonic
   */
  sync(hostMs, asked, heard) {
    const trip = heard - asked;
    if (this.#set && trip > SLOW_MS && trip > this.#set.trip) return;
    this.#set = { host: hostMs + trip / 2, mono: heard, trip };
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
    this.#hid = { mono: this.#mono(), wall: this.#wall() };
  }

  /**
   * The page is seen again. Some phones stop the monotonic clock while they sleep; what the wall
   * clock gained meanwhile is added until the laptop tells the time again.
   */
  shown() {
    if (!this.#hid || !this.#set) return;
    const slept = this.#wall() - this.#hid.wall - (this.#mono() - this.#hid.mono);
    this.#hid = null;
    if (slept > SLEPT_MS) this.#set = { ...this.#set, host: this.#set.host + slept, trip: Infinity };
  }
}
