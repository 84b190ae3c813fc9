// @ts-check
// Keeping in touch with the laptop: reading the table, hearing the stream, noticing when the
// phone wakes or the network comes back, and setting the clock by every answer.

import { ApiError } from "./api.js";
import { Arrivals } from "./arrivals.js";
import { backoff } from "./backoff.js";
import { missingFrom } from "./records.js";
import { openStream } from "./stream.js";

/** With no live stream, the table is read this often. */
const READ_EVERY_MS = 20000;

/** A table read this recently needs no reading when the stream begins; the stream tells the rest. */
const FRESH_MS = 1500;

/**
 * Whether the bowls cool otherwise than was believed: by another reading of the thermometer, or by
 * a pour that was corrected under one.
 * @param {import("./types.js").TableState} table
 * @param {import("./types.js").Change} change
 */
function clocksChanged({ readings, bowls }, change) {
  if (readings !== change.readings) return true;
  return readings > 0 && Object.entries(change.poured).some(([code, at]) => bowls[code]?.poured_at_ms !== at);
}

/**
 * @typedef {object} On
 * @property {() => void} table the store has a new table, or news of it
 * @property {() => void} back the laptop may be within reach again
 * @property {() => import("./types.js").SeatRecord[]} confirmed what the laptop has said to be saved
 * @property {(records: import("./types.js").SeatRecord[]) => void} lost it has gone back to a backup, and lacks some of that
 */

export class Contact {
  #api;
  #store;
  #clock;
  #on;
  /** @type {ReturnType<typeof openStream> | null} */
  #stream = null;
  #failures = 0;
  #reading = false;
  /** The newest change heard since the table was last asked for. */
  #heard = -Infinity;
  /** The page was put out of sight since: its answer may have lain there while the phone slept. */
  #slept = false;
  #readAt = -Infinity;
  #arrivals = new Arrivals();
  /** @type {any} */
  #again = null;

  /**
   * @param {ReturnType<typeof import("./api.js").makeApi>} api
   * @param {import("./store.js").SeatStore} store
   * @param {import("./clock.js").HostClock} clock
   * @param {On} on
   */
  constructor(api, store, clock, on) {
    this.#api = api;
    this.#store = store;
    this.#clock = clock;
    this.#on = on;
  }

  /** Begin to listen. */
  listen() {
    this.#stream = openStream(this.#api.streamUrl, {
      change: (change) => {
        this.#heard = Math.max(this.#heard, change.version);
        const clocks = this.#store.table && clocksChanged(this.#store.table, change);
        this.#store.hear(change);
        if (clocks) this.read();
        this.#on.table();
      },
      records: (news) => {
        const { records } = this.#store;
        if (this.#arrivals.hear(news, (id) => records.some((record) => record.id === id))) this.read();
      },
      open: () => {
        if (performance.now() - this.#readAt > FRESH_MS) this.read();
        this.#on.back();
      },
    });
    setInterval(() => { if (!document.hidden && !this.#stream?.live()) this.read(); }, READ_EVERY_MS);
    document.addEventListener("visibilitychange", () => this.#seen());
    addEventListener("pageshow", () => this.#seen());
    addEventListener("online", () => this.#tryAgain());
  }

  /** Read the whole table; keep trying until it has come. */
  async read() {
    clearTimeout(this.#again);
    if (this.#reading) {
      this.#failures = 0; // should that fail, it is tried again soon: the network may be back
      return;
    }
    this.#reading = true;
    try {
      const confirmed = this.#on.confirmed();
      const table = await this.#newest();
      this.#failures = 0;
      this.#readAt = performance.now();
      for (const { at_ms } of table.records) this.#clock.passed(at_ms);
      this.#arrivals.read(table.arrivals ?? 0);
      this.#store.setTable(table);
      this.#store.setSaved({ reachable: true, unknown: false });
      const lost = missingFrom(confirmed, table.records);
      if (lost.length) this.#on.lost(lost);
      this.#on.table();
    } catch (error) {
      this.#failures += 1;
      const unknown = error instanceof ApiError && error.trouble === "unknown";
      this.#store.setSaved({ reachable: unknown, unknown });
      this.#again = setTimeout(() => this.read(), backoff(this.#failures));
    } finally {
      this.#reading = false;
    }
  }

  /**
   * The table, not older than what was heard while it was on its way: an answer that the news has
   * overtaken would show a closed table as open until the next news, so it is asked for again. So
   * is one that was on its way when the phone was put aside, after which no news may have come, or
   * when another device of this seat recorded something.
   */
  async #newest() {
    for (;;) {
      this.#slept = false;
      this.#heard = -Infinity; // a laptop that went back to a backup counts from a lower version
      this.#arrivals.asked();
      const table = await this.timed(() => this.#api.table());
      if (table.version >= this.#heard && this.#arrivals.holds(table.arrivals ?? 0) && !this.#slept) return table;
    }
  }

  /** Ask, and set the clock by the answer. @template {{now_ms: number}} T @param {() => Promise<T>} ask @returns {Promise<T>} */
  async timed(ask) {
    const asked = this.#clock.moment();
    const answer = await ask();
    this.#clock.sync(answer.now_ms, asked);
    return answer;
  }

  #seen() {
    if (document.hidden) {
      this.#slept = true;
      return this.#clock.hidden();
    }
    this.#clock.shown();
    this.#tryAgain();
  }

  #tryAgain() {
    if (!this.#stream?.live()) this.#stream?.renew();
    this.#on.back();
    this.read();
  }
}
