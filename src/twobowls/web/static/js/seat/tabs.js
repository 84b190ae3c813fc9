// @ts-check
// Other tabs of the same seat: each tells the others what it has made, what was saved and what
// the taster has let go.

/**
 * @typedef {{records?: import("./types.js").SeatRecord[], settled?: string[], dropped?: string[]}} News
 */

/**
 * @param {string} seat key
 * @param {(news: News) => void} hear
 * @returns {(news: News) => void} tell the others; nothing happens where the browser has no channel
 */
export function openTabs(seat, hear) {
  if (!("BroadcastChannel" in globalThis)) return () => {};
  const channel = new BroadcastChannel(`twobowls-${seat}`);
  channel.addEventListener("message", ({ data }) => hear(data));
  return (news) => channel.postMessage(news);
}
