// @ts-check
// All that the seat page knows, in one place. Panels listen for "change" and read; actions write.
// "leave" is told before another pad comes, whoever has it come: the taster, or the host.

import { indexRecords, mergeRecords } from "./records.js";
import { sensationsIn, settledView } from "./screens.js";

/**
 * @typedef {import("./types.js").TableState} TableState
 * @typedef {import("./types.js").SeatRecord} SeatRecord
 *
 * @typedef {object} View what this page is looking at
 * @property {string | null} round
 * @property {string | null} sensation
 * @property {number} flight
 * @property {string | null} bowl the bowl whose token, words and note are at hand
 * @property {"pad" | "sliders"} mode
 * @property {boolean} welcomed the practice and the cautions have been seen
 * @property {"sensations" | "bowls" | null} walk as the taster has chosen it; null for as the host has
 * @property {string[]} later pads, by round and sensation, whose question was put off
 * @property {string | null} stays the round that the table was at when the taster went back on purpose
 *
 * @typedef {object} Saved
 * @property {number} waiting
 * @property {Array<{record: SeatRecord, error: string}>} refused
 * @property {boolean} reachable
 * @property {boolean} unknown the laptop does not know this seat
 * @property {boolean} full the laptop cannot write anything down now
 * @property {"indexeddb" | "localstorage" | "memory"} keeps
 */

export class SeatStore extends EventTarget {
  /** @type {TableState | null} */
  table = null;
  /** @type {SeatRecord[]} */
  records = [];
  index = indexRecords([]);
  /** @type {View} */
  view = { round: null, sensation: null, flight: 0, bowl: null, mode: "pad", welcomed: false, walk: null, later: [], stays: null };
  /** @type {Saved} */
  saved = { waiting: 0, refused: [], reachable: true, unknown: false, full: false, keeps: "indexeddb" };

  #tell() {
    this.dispatchEvent(new Event("change"));
  }

  /** The laptop's whole state. @param {TableState} table */
  setTable(table) {
    const first = this.table === null || this.table.round === null;
    const wished = first && table.round !== null ? { ...this.view, round: this.view.round ?? table.round } : this.view;
    this.#turnTo(settledView(table, wished));
    this.table = table;
    this.#merge(table.records);
    this.#tell();
  }

  /** What the host has just done. @param {import("./types.js").Change} change */
  hear(change) {
    if (!this.table || change.version < this.table.version) return;
    const bowls = { ...this.table.bowls };
    for (const [code, ms] of Object.entries(change.poured)) bowls[code] = { poured_at_ms: ms };
    const tasting = { ...this.table.tasting, state: change.state };
    this.setTable({ ...this.table, version: change.version, round: change.round, tasting, bowls, set_aside: change.set_aside ?? this.table.set_aside, records: [] });
  }

  /** @param {SeatRecord[]} records made here, on another tab, or kept from before */
  addRecords(records) {
    this.#merge(records);
    this.#tell();
  }

  /** Records that will never be saved. @param {string[]} ids */
  dropRecords(ids) {
    this.records = this.records.filter(({ id }) => !ids.includes(id));
    this.index = indexRecords(this.records);
    this.#tell();
  }

  /** @param {Partial<Saved>} saved */
  setSaved(saved) {
    this.saved = { ...this.saved, ...saved };
    this.#tell();
  }

  /** Look at something else. @param {Partial<View>} view */
  look(view) {
    const wished = { ...this.view, ...view };
    if (this.table && view.round !== undefined) wished.stays = view.round === this.table.round ? null : this.table.round;
    this.#turnTo(this.table ? settledView(this.table, wished) : wished);
    this.#tell();
  }

  /** The codes of the flight on view, in this seat's order. @returns {string[]} */
  get codes() {
    return this.table?.flights[this.view.flight] ?? [];
  }

  get round() {
    return this.table?.rounds.find(({ key }) => key === this.view.round);
  }

  /** The pads of the round on view. */
  get sensations() {
    return sensationsIn(this.table?.sensations ?? [], this.round, this.table?.asked);
  }

  get walk() {
    return this.view.walk ?? this.table?.walk ?? "sensations";
  }

  get sensation() {
    return this.sensations.find(({ key }) => key === this.view.sensation);
  }

  /** @param {SeatRecord[]} records */
  #merge(records) {
    const merged = mergeRecords(this.records, records);
    if (merged.length === this.records.length) return;
    this.records = merged;
    this.index = indexRecords(merged);
  }

  /** "leave" comes first, so that an unsettled move ends where it began. @param {View} view */
  #turnTo(view) {
    const { round, sensation, flight } = this.view;
    if (view.round !== round || view.sensation !== sensation || view.flight !== flight) this.dispatchEvent(new Event("leave"));
    this.view = view;
  }
}
