// @ts-check
// Talking to the laptop: two requests, each with a time limit, and plain kinds of failure.

/**
 * @typedef {"away" | "full" | "unknown" | "spoilt"} Trouble
 *   away: not reached, too slow, busy, or somebody else answered, try again; full: it cannot write
 *   now (its disk is full, say), try again and tell the host; unknown: there is no such seat;
 *   spoilt: the laptop could not read what was sent
 */

export const TIME_LIMIT_MS = 8000;

export class ApiError extends Error {
  /** @param {Trouble} trouble @param {string} message */
  constructor(trouble, message) {
    super(message);
    this.trouble = trouble;
  }
}

/** @param {number} status @returns {Trouble} */
export function troubleOf(status) {
  if (status === 404) return "unknown";
  if (status === 503) return "full";
  return status === 400 || status === 413 ? "spoilt" : "away";
}

/**
 * @param {string} seat key
 * @param {{fetch?: typeof globalThis.fetch, limit?: number}} [means]
 */
export function makeApi(seat, { fetch = globalThis.fetch.bind(globalThis), limit = TIME_LIMIT_MS } = {}) {
  const base = `/api/seats/${encodeURIComponent(seat)}`;

  /** @param {string} path @param {RequestInit} [options] @returns {Promise<any>} */
  async function ask(path, options = {}) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), limit);
    try {
      const response = await fetch(base + path, { cache: "no-store", ...options, signal: stop.signal });
      const body = await response.json().catch(() => null);
      if (response.ok && body !== null) return body;
      const message = body?.error?.message;
      // What is not in the laptop's own words is another's answer: no mark may be refused for it.
      throw new ApiError(!response.ok && message ? troubleOf(response.status) : "away", message ?? `The laptop answered ${response.status}.`);
    } catch (error) {
      if (error instanceof ApiError) throw error;
      throw new ApiError("away", "The laptop cannot be reached.");
    } finally {
      clearTimeout(timer);
    }
  }

  return {
    streamUrl: `${base}/stream`,
    /** @returns {Promise<import("./types.js").TableState>} */
    table: () => ask(""),
    /** @param {import("./types.js").SeatRecord[]} records @returns {Promise<import("./types.js").Receipt>} */
    send: (records) => ask("/records", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ records }),
    }),
  };
}
