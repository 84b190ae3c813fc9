// @ts-check
// Hears what the host does. The browser reconnects by itself; after every connection the whole
// table is read again, so that nothing which happened meanwhile is missed.

import { backoff } from "./backoff.js";

/**
 * @param {string} url
 * @param {object} on
 * @param {(change: import("./types.js").Change) => void} on.change
 * @param {() => void} on.open
 * @returns {{renew: () => void, close: () => void, live: () => boolean}}
 */
export function openStream(url, on) {
  /** @type {EventSource | null} */
  let source = null;
  let failures = 0;
  /** @type {any} */
  let timer = null;

  function connect() {
    clearTimeout(timer);
    source?.close();
    source = new EventSource(url);
    source.addEventListener("open", () => {
      failures = 0;
      on.open();
    });
    source.addEventListener("change", (event) => on.change(JSON.parse(event.data)));
    source.addEventListener("error", () => {
      // The browser gives up after some answers (an error page, a restart); then we go on.
      if (source?.readyState !== EventSource.CLOSED) return;
      failures += 1;
      timer = setTimeout(connect, backoff(failures));
    });
  }

  connect();
  return {
    renew: connect,
    close: () => {
      clearTimeout(timer);
      source?.close();
    },
    live: () => source?.readyState === EventSource.OPEN,
  };
}
