// @ts-check
// The shapes that the seat and the laptop exchange. Types only; the page never loads this file.

/**
 * @typedef {{key: string, name: string, kind: "aroma" | "taste", target_c: number | null}} Round
 * @typedef {{what: string, notice: string, like: string[], mistaken_for: string}} Guide
 * @typedef {{key: string, name: string, low: string, high: string, wait_s: number, kind: "aroma" | "taste", guide: Guide}} Sensation
 * @typedef {{key: string, name: string}} Term
 * @typedef {{key: string, name: string, hint?: string, terms: Term[]}} Family
 * @typedef {{key: string, text: string, source: string}} Caution
 * @typedef {{break_s: number, skim_s: number, first_sip_s: number | null, first_sip_c: number, rounds: Record<string, number | null>}} BowlClock
 *
 * @typedef {object} TableState what the laptop says
 * @property {{name: string, state: "planned" | "open" | "closed" | "revealed", names_in_files?: boolean}} tasting
 * @property {{id: string, number: number, nickname: string}} seat
 * @property {number} now_ms
 * @property {number} version
 * @property {string | null} round
 * @property {Round[]} rounds
 * @property {string[][]} flights
 * @property {Record<string, {poured_at_ms: number | null}>} bowls
 * @property {string[]} [set_aside] bowls that were spilled or are foul; marks on them are saved and do not count
 * @property {number} readings of the thermometer, which cooling and clock follow
 * @property {Array<[number, number]>} cooling
 * @property {BowlClock} clock
 * @property {Sensation[]} sensations
 * @property {Record<string, string[]>} [asked] sensation keys by round
 * @property {"sensations" | "bowls"} [walk]
 * @property {Family[]} families
 * @property {Caution[]} cautions
 * @property {SeatRecord[]} records
 * @property {number} [arrivals] batches of this seat's records, since the laptop was started
 *
 * @typedef {{kind: "mark", id: string, bowl: string, sensation: string, round: string, intensity: number | null, liking: number | null, kept?: boolean, at_ms: number}} MarkRecord
 * @typedef {{kind: "pick", id: string, bowl_a: string, bowl_b: string, sensation: string, round: string, question: "more" | "better", answer: string, at_ms: number}} PickRecord
 * @typedef {{kind: "word", id: string, bowl: string, family: string, term: string, feeling: Feeling, round: string, at_ms: number}} WordRecord
 * @typedef {{kind: "note", id: string, bowl: string, text: string, round: string, at_ms: number}} NoteRecord
 * @typedef {"liked" | "disliked" | "neutral" | "removed"} Feeling
 * @typedef {MarkRecord | PickRecord | WordRecord | NoteRecord} SeatRecord
 *
 * @typedef {{version: number, state: TableState["tasting"]["state"], round: string | null, poured: Record<string, number | null>, set_aside?: string[], readings: number, now_ms: number}} Change
 * @typedef {{saved: string[], refused: Array<{id: string, error: string}>, now_ms: number}} Receipt
 */

export {};
