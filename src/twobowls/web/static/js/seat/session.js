// @ts-check
// One seat on one phone: joins store, outbox, clock and laptop. The only module that makes
// records.

import { makeApi } from "./api.js";
import { HostClock } from "./clock.js";
import { Contact } from "./contact.js";
import { makeId } from "./ids.js";
import { localShelf, openJournal } from "./journal.js";
import { seeToOthers } from "./former.js";
import { openMemory } from "./memory.js";
import { Outbox } from "./outbox.js";
import { missingFrom } from "./records.js";
import { SecondTry } from "./second-try.js";
import { Sender } from "./sender.js";
import { Snapshot } from "./snapshot.js";
import { openStorage } from "./storage.js";
import { SeatStore } from "./store.js";
import { openTabs } from "./tabs.js";

/** The tab that made a record sends it; should it be gone by then, this one does. */
const OTHER_TAB_MS = 2500;

/** After this long without an answer, the table that was seen last is shown meanwhile. */
const PATIENCE_MS = 1500;

/**
 * @template {{id: string, at_ms: number}} R
 * @typedef {R extends any ? Omit<R, "id" | "at_ms"> : never} Unstamped
 */

export class Session {
  store = new SeatStore();
  clock = new HostClock();
  #storage;
  #outbox;
  #contact;
  #sender;
  #snapshot;
  #secondTry;
  #tellTabs;

  /** @param {string} seat key @param {import("./storage.js").Storage} storage */
  constructor(seat, storage) {
    const api = makeApi(seat);
    this.memory = openMemory(seat);
    this.#snapshot = new Snapshot(storage, this.store, this.clock);
    this.#outbox = new Outbox(storage, seat, openJournal(seat, localShelf()));
    this.#tellTabs = openTabs(seat, (news) => this.#fromTab(news));
    this.#storage = storage;
    this.#secondTry = new SecondTry(this.store, this.#outbox, () => this.#back());
    this.#contact = new Contact(api, this.store, this.clock, {
      table: () => { this.#snapshot.remember(); this.#secondTry.look(); },
      back: () => this.#back(),
      confirmed: () => missingFrom(this.store.records, this.#outbox.records),
      lost: (records) => this.#sendAgain(records),
    });
    this.#sender = new Sender({
      outbox: this.#outbox,
      send: (records) => this.#secondTry.note(() => this.#contact.timed(() => api.send(records))),
      heard: ({ saved }) => { this.#count(); this.#tellTabs({ settled: saved }); this.#secondTry.look(); },
      state: (trouble) => this.store.setSaved({ reachable: trouble !== "away", unknown: trouble === "unknown", full: trouble === "full" }),
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
    this.#know([...(await this.#snapshot.records()), ...this.#outbox.records]);
    await Promise.race([this.#contact.read(), new Promise((resolve) => setTimeout(resolve, PATIENCE_MS))]);
    if (!this.store.table) await this.#snapshot.recall();
    this.#secondTry.look();
    this.#count();
    this.#contact.listen();
    this.#sender.kick();
    if (this.store.table) seeToOthers(this.#storage, this.store.table, this.clock.now(), (records) => this.#sendAgain(records)).catch(() => {});
  }

  /** @param {import("./types.js").SeatRecord[]} records */
  async #sendAgain(records) {
    this.#know(records);
    await this.#outbox.again(records);
    this.#count();
    this.#sender.kick();
  }

  /** Records from before, or from elsewhere. @param {import("./types.js").SeatRecord[]} records */
  #know(records) {
    for (const { at_ms } of records) this.clock.passed(at_ms);
    this.store.addRecords(records);
  }

  /**
   * Make a record of what the taster has done; written down here before it is sent.
   * @param {Unstamped<import("./types.js").SeatRecord>} fields
   * @param {number} [made] monotonic, where it was done a while ago: the host may have closed since
   */
  record(fields, made) {
    const record = /** @type {import("./types.js").SeatRecord} */ ({ ...fields, id: makeId(), at_ms: this.clock.stamp(made) });
    this.store.addRecords([record]);
    this.#outbox.add(record).then(() => {
      this.#count();
      this.#tellTabs({ records: [record] });
      this.#sender.kick();
    });
    this.#count();
  }

  /** Change what is looked at, and remember it on this phone. @param {Partial<import("./store.js").View>} view */
  look(view) {
    this.store.look(view);
    this.memory.keepView(this.store.view);
  }

  /** The taster has read why some were refused. What is being tried again since is not let go. @param {string[]} ids */
  dismiss(ids) {
    const dropped = this.#outbox.refused.map(({ record }) => record.id).filter((id) => ids.includes(id));
    this.#dropped(dropped);
    this.#tellTabs({ dropped });
  }

  /** Everywhere at once: known and not in the outbox would mean that the laptop has it. @param {string[]} ids */
  #dropped(ids) {
    this.store.dropRecords(ids);
    this.#outbox.dismiss(ids);
    this.#count();
  }

  /** @param {import("./tabs.js").News} news */
  #fromTab({ records = [], settled = [], dropped = [] }) {
    if (dropped.length) this.#dropped(dropped);
    this.#outbox.adopt(records);
    this.#know(records);
    if (records.length) setTimeout(() => this.#sender.kick(), OTHER_TAB_MS);
    if (settled.length) this.store.setSaved({ reachable: true, unknown: false, full: false });
    if (settled.length) this.#outbox.settle(settled, []);
    this.#count();
  }

  /** Look for what another tab may have left, and send. */
  #back() {
    this.#outbox.load().catch(() => {}).then(() => {
      this.store.addRecords(this.#outbox.records);
      this.#count();
      this.#sender.kick();
    });
  }

  #count() {
    this.store.setSaved({ waiting: this.#outbox.waiting.length, refused: this.#outbox.refused, keeps: this.#outbox.keeps });
    this.#snapshot.remember();
  }
}
