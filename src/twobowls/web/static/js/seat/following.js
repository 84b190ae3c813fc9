// @ts-check
// When a phone goes on to the round that the host has called: as soon as no finger is down and the
// former round is complete, or has been left alone for a while. Marks of the new round would
// otherwise be put over those of the former. Whoever goes back on purpose stays there until
// another round is called.

import { roundProgress } from "./records.js";

/** A pad that nobody has touched for so long has been left. */
export const LEFT_MS = 10000;

/**
 * In how many milliseconds to go on, as things stand; null for not at all. Pure.
 * @param {object} now
 * @param {string | null} now.called the round that the table is at
 * @param {string | null} now.viewed the round on view
 * @param {string | null} now.stays the round called when the taster went back on purpose
 * @param {boolean} now.held a finger is down
 * @param {boolean} now.complete every bowl has its place in the round on view
 * @param {number} now.quiet_ms since the last touch or key, or since the call where that is later
 * @returns {number | null}
 */
export function followIn({ called, viewed, stays, held, complete, quiet_ms }) {
  if (called === null || viewed === called || stays === called || held) return null;
  return complete ? 0 : Math.max(0, LEFT_MS - quiet_ms);
}

/** @param {import("./store.js").SeatStore} store @returns {boolean} */
function isComplete({ table, index, sensations, view }) {
  const { done, of } = roundProgress(index, table?.flights ?? [], sensations, view.round ?? "");
  return done >= of;
}

/**
 * Watches the table and the taster's hands.
 * @param {import("./session.js").Session} session
 * @param {(from: string) => void} [gone] the page has gone on from this round
 * @param {EventTarget} [page]
 * @param {() => number} [now] monotonic milliseconds
 */
export function followRounds(session, gone = () => {}, page = document, now = () => performance.now()) {
  const { store } = session;
  /** @type {Set<number>} */
  const fingers = new Set();
  /** @type {string | null} */
  let called = null;
  let quietSince = now();
  /** @type {any} */
  let timer = null;

  function look() {
    clearTimeout(timer);
    const { table, view } = store;
    if (table?.tasting.state !== "open") return;
    if (table.round !== called) {
      called = table.round;
      quietSince = now();
    }
    const wait = called === view.round ? null : followIn({
      called, viewed: view.round, stays: view.stays, held: fingers.size > 0, complete: isComplete(store), quiet_ms: now() - quietSince,
    });
    // Not within the news or the touch itself: what that is about to record belongs to the former.
    if (wait !== null) timer = setTimeout(wait ? look : go, wait);
  }

  function go() {
    const { table, view } = store;
    if (!table || fingers.size || table.round === view.round || view.round === null) return;
    const from = view.round;
    session.look({ round: table.round });
    gone(from);
  }

  /** @param {Event} event */
  function touched(event) {
    const { pointerId } = /** @type {PointerEvent} */ (event);
    if (event.type === "pointerdown") fingers.add(pointerId);
    else if (event.type.startsWith("pointer")) fingers.delete(pointerId);
    quietSince = now();
    look();
  }

  for (const name of ["pointerdown", "pointerup", "pointercancel", "keydown", "input"]) page.addEventListener(name, touched, { capture: true });
  store.addEventListener("change", look);
  look();
}
