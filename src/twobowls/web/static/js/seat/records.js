// @ts-check
// What a seat's records say now: the latest counts, the history stays. Pure.

/**
 * @typedef {import("./types.js").SeatRecord} SeatRecord
 * @typedef {import("./types.js").MarkRecord} MarkRecord
 * @typedef {import("./types.js").PickRecord} PickRecord
 * @typedef {import("./types.js").WordRecord} WordRecord
 * @typedef {import("./types.js").NoteRecord} NoteRecord
 *
 * @typedef {object} RecordIndex
 * @property {Map<string, MarkRecord>} marks by bowl, sensation, round
 * @property {Map<string, PickRecord>} picks by the two bowls, sensation, round, question
 * @property {Map<string, Map<string, WordRecord>>} words by bowl, then family and term; removed ones are left out
 * @property {Map<string, NoteRecord>} notes by bowl
 */

/** @param {...string} parts */
const key = (...parts) => parts.join("|");

/** @param {string} bowl @param {string} sensation @param {string} round */
export const markKey = (bowl, sensation, round) => key(bowl, sensation, round);

/** The same for (a, b) and (b, a). @param {string} a @param {string} b @param {string} sensation @param {string} round @param {string} question */
export const pickKey = (a, b, sensation, round, question) => key(...[a, b].sort(), sensation, round, question);

/** @param {string} family @param {string} term */
export const wordKey = (family, term) => key(family, term);

/**
 * Two lists of records as one, each id once, in the order of time.
 * @param {SeatRecord[]} known
 * @param {SeatRecord[]} more
 * @returns {SeatRecord[]}
 */
export function mergeRecords(known, more) {
  const byId = new Map(known.map((record) => [record.id, record]));
  for (const record of more) if (!byId.has(record.id)) byId.set(record.id, record);
  return [...byId.values()].sort((a, b) => a.at_ms - b.at_ms);
}

/**
 * Records that are known here and not held there.
 * @param {SeatRecord[]} known
 * @param {SeatRecord[]} held
 * @returns {SeatRecord[]}
 */
export function missingFrom(known, held) {
  const ids = new Set(held.map(({ id }) => id));
  return known.filter(({ id }) => !ids.has(id));
}

/**
 * @param {SeatRecord[]} records in the order of time
 * @returns {RecordIndex}
 */
export function indexRecords(records) {
  /** @type {RecordIndex} */
  const index = { marks: new Map(), picks: new Map(), words: new Map(), notes: new Map() };
  for (const record of records) {
    if (record.kind === "mark") index.marks.set(markKey(record.bowl, record.sensation, record.round), record);
    else if (record.kind === "pick") index.picks.set(pickKey(record.bowl_a, record.bowl_b, record.sensation, record.round, record.question), record);
    else if (record.kind === "note") index.notes.set(record.bowl, record);
    else keepWord(index.words, record);
  }
  return index;
}

/** @param {RecordIndex["words"]} words @param {WordRecord} record */
function keepWord(words, record) {
  const ofBowl = words.get(record.bowl) ?? new Map();
  words.set(record.bowl, ofBowl);
  if (record.feeling === "removed") ofBowl.delete(wordKey(record.family, record.term));
  else ofBowl.set(wordKey(record.family, record.term), record);
}

const NOWHERE = Object.freeze({ intensity: null, liking: null });

/**
 * @param {RecordIndex} index
 * @param {string} bowl
 * @param {string} sensation
 * @param {string} round
 * @returns {{intensity: number | null, liking: number | null}}
 */
export function standing(index, bowl, sensation, round) {
  const { intensity, liking } = index.marks.get(markKey(bowl, sensation, round)) ?? NOWHERE;
  return { intensity, liking };
}

/**
 * How many of the bowls have their place on a pad, on both scales.
 * @param {RecordIndex} index
 * @param {string[]} codes
 * @param {string} sensation
 * @param {string} round
 */
export function placedCount(index, codes, sensation, round) {
  return codes.filter((code) => {
    const { intensity, liking } = standing(index, code, sensation, round);
    return intensity !== null && liking !== null;
  }).length;
}

/**
 * How far a round has come, over all its pads and flights.
 * @param {RecordIndex} index
 * @param {string[][]} flights
 * @param {Array<{key: string}>} sensations of the round
 * @param {string} round
 * @returns {{done: number, of: number}}
 */
export function roundProgress(index, flights, sensations, round) {
  const codes = flights.flat();
  const done = sensations.reduce((sum, { key: sensation }) => sum + placedCount(index, codes, sensation, round), 0);
  return { done, of: codes.length * sensations.length };
}

/** Whether a bowl's mark was kept from a former round. @param {RecordIndex} index @param {string} bowl @param {string} sensation @param {string} round */
export const isKept = (index, bowl, sensation, round) => index.marks.get(markKey(bowl, sensation, round))?.kept === true;

/** The bowl to place next, or null. @param {Array<{code: string, next: boolean}>} tokens @returns {string | null} */
export const nextOf = (tokens) => tokens.find(({ next }) => next)?.code ?? null;

/**
 * Marks that say of bowls without a place in a round that they stand where they stood before: none
 * for a bowl that stood nowhere. The same parameters as `tokensOf`.
 * @param {RecordIndex} index @param {string[]} codes @param {string} sensation @param {string} round @param {string[]} earlier
 */
export function keptMarks(index, codes, sensation, round, earlier) {
  return tokensOf(index, codes, sensation, round, earlier).flatMap(({ code, intensity, liking, trail }) => {
    const former = [...trail].reverse().find((each) => each.intensity !== null || each.liking !== null);
    if (intensity !== null || liking !== null || !former) return [];
    return [{ kind: /** @type {const} */ ("mark"), bowl: code, sensation, round, intensity: former.intensity, liking: former.liking, kept: true }];
  });
}

/**
 * The tokens of one pad, with the way each has come through earlier rounds.
 * @param {RecordIndex} index
 * @param {string[]} codes in the seat's order
 * @param {string} sensation
 * @param {string} round
 * @param {string[]} earlier rounds before it, oldest first
 */
export function tokensOf(index, codes, sensation, round, earlier) {
  const next = codes.find((code) => {
    const { intensity, liking } = standing(index, code, sensation, round);
    return intensity === null && liking === null;
  });
  return codes.map((code) => ({
    code,
    ...standing(index, code, sensation, round),
    trail: earlier.map((key) => ({ round: key, ...standing(index, code, sensation, key) })),
    next: code === next,
  }));
}
