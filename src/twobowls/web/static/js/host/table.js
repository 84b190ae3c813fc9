// @ts-check
// The live state of a tasting on a host's page: hears the stream, keeps the host's time and the
// clocks, and calls back when something changed and once a second.

import { HostClock } from "../seat/clock.js";
import { openStream } from "../seat/stream.js";

/**
 * @typedef {{version: number, state: string, round: string | null, poured: Record<string, number | null>,
 *   readings: number, unfinished: string, expected: Record<string, number>, now_ms: number, trouble: string,
 *   seats: Array<{id: string, number: number, nickname: string, marked: Record<string, number>, taking_part: boolean}>}} Bench
 * @typedef {import("./bowl-clock.js").Clock & {cooling: Array<[number, number]>, first_sip_c: number, readings: string[]}} Clocks
 */

/**
 * @param {string} id of the tasting
 * @param {object} on
 * @param {(bench: Bench) => void} on.change
 * @param {(bench: Bench, clocks: Clocks, now: number) => void} on.tick
 * @param {(live: boolean) => void} on.link
 */
export function followTable(id, on) {
  const time = new HostClock();
  /** @type {Bench | null} */
  let bench = null;
  /** @type {Clocks | null} */
  let clocks = null;
  let read = "";

  /** @param {string} wanted */
  async function readClocks(wanted) {
    const response = await fetch(`/tastings/${id}/clock.json`, { cache: "no-store" });
    if (!response.ok) throw new Error(`The laptop answered ${response.status}.`);
    const answer = await response.json();
    if (wanted === read) clocks = answer; // or else newer ones are on their way
    tick();
  }

  /** Ask for the clocks that the bench speaks of, unless they are here or on their way. @param {Bench} now */
  function keepClocks(now) {
    // what was poured when matters to the clocks only once there is a reading
    const wanted = `${now.readings} ${now.readings ? JSON.stringify(now.poured) : ""}`;
    if (wanted === read) return;
    read = wanted;
    readClocks(wanted).catch(() => { if (wanted === read) read = ""; }); // the next tick asks again
  }

  function tick() {
    on.link(stream.live());
    if (bench) keepClocks(bench);
    if (bench && clocks) on.tick(bench, clocks, time.now());
  }

  const stream = openStream(`/tastings/${id}/stream`, {
    open: () => on.link(true),
    change: (heard) => {
      bench = /** @type {Bench} */ (/** @type {unknown} */ (heard));
      time.sync(bench.now_ms, time.moment());
      on.change(bench);
      tick();
    },
  });
  setInterval(tick, 1000);
}
