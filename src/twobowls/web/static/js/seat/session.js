// @ts-check
// One seat on one phone: joins store, outbox, clock, laptop and stream. The only module that
// makes records.

import { ApiError, makeApi } from "./api.js";
import { backoff } from "./backoff.js";
import { HostClock } from "./clock.js";
import { makeId } from "./ids.js";
import { openMemory } from "./memory.js";
import { Outbox } from "./outbox.js";
import { Sender } from "./sender.js";
import { openStorage } from "./storage.js";
import { SeatStore } from "./store.js";
import { openStream } from "./stream.js";

/** With no live stream, the table is read this often. */
const READ_EVERY_MS = 20000;
const REMEMBER_AFTER_MS = 800;

/** After this long without an answer, the table that was seen last is shown meanwhile. */
const PATIENCE_MS = 1500;

/**
 * @template {{id: string, at_ms: number}} R
 * @typedef {R extends any ? Omit<R, "id" | "at_ms"> : never} Unstamped
 */

export class Session {
  store = new SeatStore();
  clock = new HostClock();
  #api;
  #outbox;
  #storage;
  #sender;
  #channel;
  /** @type {ReturnType<typeof openStream> | null} */
  #stream = null;
  #failures = 0;
  #reading = false;
  /** @type {any} */ #again = null;
  /** @type {any} */ #remembering = null;

  /** @param {string} seat key @param {import("./storage.js").Storage} storage */
  constructor(seat, storage) {
    this.memory = openMemory(seat);
    this.#api = makeApi(seat);
    this.#storage = storage;
    this.#outbox = new Outbox(storage, seat);
    this.#channel = "BroadcastChannel" in globalThis ? new BroadcastChannel(`twobowls-${seat}`) : null;
    this.#sender = new Sender({
      outbox: this.#outbox,
      send: (records) => this.#timed(() => this.#api.send(records)),
      heard: (receipt) => { this.#count(); this.#channel?.postMessage({ settled: receipt.saved }); },
      state: (trouble) => this.store.setSaved({ reachable: trouble === null, unknown: trouble === "unknown" }),
    });
  }

  /** @param {string} seat key */
  static async open(seat) {
    const session = new Session(seat, await openStorage(seat));
    await session.#start();
    return session;
  }

  async #start() {
    await this.#outbox.load().catch(() => {});
    this.store.look(this.memory.view());
    this.store.addRecords(this.#outbox.records);
    this.#channel?.addEventListener("message", ({ data }) => this.#fromTab(data));
    await Promise.race([this.read(), new Promise((resolve) => setTimeout(resolve, PATIENCE_MS))]);
    if (!this.store.table) await this.#recall();
    this.#count();
    this.#stream = openStream(this.#api.streamUrl, { change: (change) => this.#hear(change), open: () => { this.read(); this.#sender.kick(); } });
    setInterval(() => { if (!document.hidden && !this.#stream?.live()) this.read(); }, READ_EVERY_MS);
    document.addEventListener("visibilitychange", () => this.#seen());
    addEventListener("online", () => this.#back());
    addEventListener("pageshow", () => this.#seen());
    this.#sender.kick();
  }

  /** Make a record of what the taster has done; written down here before it is sent. @param {Unstamped<import("./types.js").SeatRecord>} fields */
  record(fields) {
    const record = /** @type {import("./types.js").SeatRecord} */ ({ ...fields, id: makeId(), at_ms: this.clock.stamp() });
    this.store.addRecords([record]);
    this.#outbox.add(record).then(() => {
      this.#count();
      this.#channel?.postMessage({ records: [record] });
      this.#sender.kick();
    });
    this.#count();
  }

  /** Read the whole table. */
  async read() {
    clearTimeout(this.#again);
    if (this.#reading) return;
    this.#reading = true;
    try {
      const table = await this.#timed(() => this.#api.table());
      this.#failures = 0;
      for (const { at_ms } of table.records) this.clock.passed(at_ms);
      this.store.setTable(table);
      this.store.setSaved({ reachable: true, unknown: false });
      this.#remember();
    } catch (error) {
      this.#failures += 1;
      const unknown = error instanceof ApiError && error.trouble === "unknown";
      this.store.setSaved({ reachable: unknown, unknown });
      this.#again = setTimeout(() => this.read(), backoff(this.#failures));
    } finally {
      this.#reading = false;
    }
  }

  /** Change what is looked at, and remember it on this phone. @param {Partial<import("./store.js").View>} view */
  look(view) {
    this.store.look(view);
    this.memory.keepView(this.store.view);
  }

  /** The taster has read why some were refused. @param {string[]} ids */
  async dismiss(ids) {
    await this.#outbox.dismiss(ids);
    this.store.dropRecords(ids);
    this.#count();
  }

  /** @template {{now_ms: number}} T @param {() => Promise<T>} ask @returns {Promise<T>} */
  async #timed(ask) {
    const asked = performance.now();
    const answer = await ask();
    this.clock.sync(answer.now_ms, asked, performance.now());
    return answer;
  }

  /** @param {import("./types.js").Change} change */
  #hear(change) {
    this.store.hear(change);
    this.#remember();
  }

  /** @param {{records?: import("./types.js").SeatRecord[], settled?: string[]}} data */
  #fromTab({ records = [], settled = [] }) {
    this.#outbox.adopt(records);
    for (const { at_ms } of records) this.clock.passed(at_ms);
    this.store.addRecords(records);
    if (settled.length) this.#outbox.settle(settled, []).then(() => this.#count());
    this.#count();
  }

  #seen() {
    if (document.hidden) return this.clock.hidden();
    this.clock.shown();
    this.#back();
  }

  /** Perhaps the laptop is within reach again. */
  #back() {
    if (!this.#stream?.live()) this.#stream?.renew();
    this.#outbox.load().catch(() => {}).then(() => {
      this.store.addRecords(this.#outbox.records);
      this.#sender.kick();
    });
    this.read();
  }

  #count() {
    this.store.setSaved({ waiting: this.#outbox.waiting.length, refused: this.#outbox.refused, keeps: this.#outbox.keeps });
    this.#remember();
  }

  /** Keep the table on the phone, for a reload without the laptop. */
  #remember() {
    clearTimeout(this.#remembering);
    this.#remembering = setTimeout(() => {
      const { table, records } = this.store;
      if (table) this.#storage.remember({ ...table, records, offset: this.clock.offset }).catch(() => {});
    }, REMEMBER_AFTER_MS);
  }

  async #recall() {
    const table = await this.#storage.recall().catch(() => null);
    if (!table) return;
    this.clock.guess(table.offset ?? 0);
    for (const { at_ms } of table.records) this.clock.passed(at_ms);
    this.store.setTable(table);
  }
}
