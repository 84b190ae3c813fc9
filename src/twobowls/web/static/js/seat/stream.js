// @ts-check
// Hears what the host does. The browser reconnects by itself; after every connection the whole
// table is read again, so that nothing which happened meanwhile is missed. A line that has gone
// dead (a phone that roams, a laptop that slept) is no error to the browser for many minutes: the
// laptop sends a beat every 15 s, and a line without one for too long is given up.

import { backoff } from "./backoff.js";

const SILENT_MS = 40000;
const LOOK_EVERY_MS = 5000;

/**
 * @param {string} url
 * @param {object} on
 * @param {(change: import("./types.js").Change) => void} on.change
 * @param {(news: import("./arrivals.js").Arrived) => void} [on.records]
 * @param {() => void} on.open
 * @returns {{renew: () => void, live: () => boolean}}
 */
export function openStream(url, on) {
  /** @type {EventSource | null} */
  let source = null;
  let failures = 0;
  let heardAt = 0;
  const heard = () => { heardAt = performance.now(); };
  /** @type {any} */
  let timer = null;

  function connect() {
    clearTimeout(timer);
    source?.close();
    source = new EventSource(url);
    source.addEventListener("open", () => {
      failures = 0;
      heard();
      on.open();
    });
    source.addEventListener("beat", heard);
    source.addEventListener("change", (event) => {
      heard();
      on.change(JSON.parse(event.data));
    });
    source.addEventListener("records", (event) => {
      heard();
      on.records?.(JSON.parse(event.data));
    });
    source.addEventListener("error", () => {
      // The browser gives up after some answers (an error page, a restart); then we go on.
      if (source?.readyState !== EventSource.CLOSED) return;
      failures += 1;
      timer = setTimeout(connect, backoff(failures));
    });
  }

  const live = () => source?.readyState === EventSource.OPEN;
  connect();
  setInterval(() => { if (live() && performance.now() - heardAt > SILENT_MS) connect(); }, LOOK_EVERY_MS);
  return { renew: connect, live };
}
