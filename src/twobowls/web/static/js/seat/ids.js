// @ts-check
// Ids that a phone makes itself. crypto.randomUUID needs a secure context, which a phone on the
// laptop's plain-http address has not; getRandomValues is there always.

/**
 * @param {(bytes: Uint8Array) => Uint8Array} [fill]
 * @returns {string} 32 hex digits
 */
export function makeId(fill = (bytes) => crypto.getRandomValues(bytes)) {
  return [...fill(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
