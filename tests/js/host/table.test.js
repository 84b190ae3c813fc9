// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { followTable } from "../../../src/twobowls/web/static/js/host/table.js";

/** The laptop as a page sees it: one line that can be spoken on, and answers given by hand. */
function laptop() {
  /** @type {Record<string, (event: any) => void>} */
  const hears = {};
  /** @type {Array<(readings: number, ok?: boolean) => void>} */
  const asked = [];
  class Line {
    static OPEN = 1;
    readyState = 1;
    addEventListener(/** @type {string} */ name, /** @type {(event: any) => void} */ on) { hears[name] = on; }
    close() {}
  }
  /** @type {Array<() => void>} */
  const ticks = [];
  Object.assign(globalThis, {
    EventSource: Line,
    setInterval: (/** @type {() => void} */ tick) => ticks.push(tick),
    fetch: () => new Promise((resolve) => asked.push((readings, ok = true) => resolve({ ok, status: 500, json: async () => ({ readings: [`${readings}`] }) }))),
  });
  const say = (/** @type {number} */ readings, poured = 1000) =>
    hears.change({ data: JSON.stringify({ readings, poured: { 417: poured }, now_ms: 9000000, seats: [] }) });
  return { asked, say, tick: () => ticks.at(-1)?.() };
}

const settled = () => new Promise((resolve) => setImmediate(resolve));

function follow() {
  const { asked, say, tick } = laptop();
  /** @type {string[][]} */
  const shown = [];
  followTable("t", { change: () => {}, link: () => {}, tick: (_bench, { readings }) => shown.push(readings) });
  return { asked, say, shown, tick };
}

test("clocks that a newer reading has overtaken are not shown, whichever answer comes last", async () => {
  const { asked, say, shown } = follow();
  say(1);
  say(2);
  asked[1](2);
  await settled();
  asked[0](1);
  await settled();
  assert.deepEqual(shown.at(-1), ["2"]);
  assert.ok(!shown.some(([readings]) => readings === "1"));
});

test("clocks that the laptop could not give are asked for again, though nothing changes", async () => {
  const { asked, say, shown, tick } = follow();
  say(1);
  asked[0](0, false);
  await settled();
  assert.deepEqual(shown, []);
  tick();
  tick();
  assert.equal(asked.length, 2, "once at a time");
  asked[1](1);
  await settled();
  assert.deepEqual(shown.at(-1), ["1"]);
});
