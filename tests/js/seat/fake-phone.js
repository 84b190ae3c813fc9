// @ts-check
// The parts of a phone's browser that a session needs, by hand: every answer, every word of the
// host and of another tab comes when the test says so.

import { mock } from "node:test";
import { Session } from "../../../src/twobowls/web/static/js/seat/session.js";

/** Let everything go on that has been answered. */
export const settled = async () => { for (let turn = 0; turn < 5; turn += 1) await new Promise((resolve) => setImmediate(resolve)); };

/** localStorage as browsers have it. */
function shelf() {
  /** @type {Map<string, string>} */
  const kept = new Map();
  return {
    get length() { return kept.size; },
    key: (/** @type {number} */ place) => [...kept.keys()][place] ?? null,
    getItem: (/** @type {string} */ name) => kept.get(name) ?? null,
    setItem: (/** @type {string} */ name, /** @type {string} */ value) => kept.set(name, value),
    removeItem: (/** @type {string} */ name) => kept.delete(name),
  };
}

/** @returns {any} what the laptop says of an open tasting in its hot round */
export const table = (more = {}) => ({
  tasting: { name: "T", state: "open" }, seat: { id: "s", number: 1, nickname: "Ana" }, now_ms: 9000000, version: 4, round: "hot",
  rounds: [{ key: "hot", name: "Hot", kind: "taste", target_c: 60 }], sensations: [{ key: "body", name: "Body", kind: "taste" }],
  flights: [["417", "862"]], bowls: { 417: { poured_at_ms: null } }, readings: 0, cooling: [], clock: {}, families: [], cautions: [], records: [], ...more,
});

export const MARK = Object.freeze({ kind: "mark", bowl: "417", sensation: "body", round: "hot", intensity: 1, liking: 2 });

/** A new phone. `asked` holds its requests, each to be answered, or failed. */
export function fakePhone() {
  mock.timers.enable({ apis: ["setTimeout", "setInterval"] });
  const page = Object.assign(new EventTarget(), { hidden: false });
  const window = new EventTarget();
  /** @type {any[]} */
  const asked = [];
  /** @type {EventTarget[]} */
  const lines = [];
  /** @type {EventTarget[]} */
  const channels = [];
  class Line extends EventTarget {
    static OPEN = 1;
    static CLOSED = 2;
    readyState = 1;
    constructor() { super(); lines.push(this); }
    close() { this.readyState = 2; }
  }
  class Channel extends EventTarget {
    constructor() { super(); channels.push(this); }
    postMessage() {}
  }
  const fetch = (/** @type {string} */ url, /** @type {any} */ { method = "GET", body = "null" } = {}) => new Promise((resolve, reject) => asked.push({
    url, method, ids: (JSON.parse(body)?.records ?? []).map((/** @type {any} */ { id }) => id),
    answer: (/** @type {any} */ data, status = 200) => resolve({ ok: status < 400, status, json: async () => data }),
    fail: () => reject(new Error("no network")),
  }));
  const parts = { document: page, addEventListener: window.addEventListener.bind(window), EventSource: Line, BroadcastChannel: Channel, localStorage: shelf(), fetch };
  for (const [name, value] of Object.entries(parts)) Object.defineProperty(globalThis, name, { value, configurable: true, writable: true });
  const event = (/** @type {string} */ name, /** @type {any} */ data) => new MessageEvent(name, { data });
  return {
    asked,
    sent: () => asked.filter(({ method }) => method === "POST"),
    read: () => asked.filter(({ method }) => method === "GET"),
    /** The host has done something. @param {any} more */
    say: (more) => lines.at(-1)?.dispatchEvent(event("change", JSON.stringify({ state: "open", round: "hot", poured: {}, readings: 0, now_ms: 9000000, ...more }))),
    /** Records of this seat have come in. @param {any} news */
    arrive: (news) => lines.at(-1)?.dispatchEvent(event("records", JSON.stringify(news))),
    /** Another tab tells something. @param {any} news */
    tell: (news) => channels.at(-1)?.dispatchEvent(event("message", news)),
    /** The page is put out of sight, or looked at. */
    hide: () => { page.hidden = true; page.dispatchEvent(new Event("visibilitychange")); },
    show: () => { page.hidden = false; page.dispatchEvent(new Event("visibilitychange")); },
    pass: async (/** @type {number} */ ms) => { mock.timers.tick(ms); await settled(); },
    /** Open the seat on the laptop's answer. */
    open: async (more = {}) => {
      const opening = Session.open("seat");
      await settled();
      asked.at(-1).answer(table(more));
      return opening;
    },
  };
}
