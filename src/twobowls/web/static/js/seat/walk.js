// @ts-check
// The two walks over a round: sensation by sensation, or bowl by bowl. Pure.

/** @typedef {"sensations" | "bowls"} Walk @typedef {{sensation: string, bowl: string | null}} Stop */

/**
 * Where the onward button leads, or the one back.
 * @param {Walk} walk
 * @param {string[]} pads keys of the sensations of the round
 * @param {string[]} codes of the flight, in the seat's order
 * @param {{sensation: string | null, bowl: string | null}} here
 * @param {1 | -1} by
 * @returns {Stop | null} null at the walk's end; the bowl is null where the pad chooses the next one
 */
export function beside(walk, pads, codes, { sensation, bowl }, by) {
  const place = pads.indexOf(sensation ?? "") + by;
  if (walk === "sensations") return pads[place] === undefined ? null : { sensation: pads[place], bowl: null };
  const at = Math.max(0, codes.indexOf(bowl ?? ""));
  if (pads[place] !== undefined) return { sensation: pads[place], bowl: codes[at] ?? null };
  const next = codes[at + by];
  return next === undefined ? null : { sensation: by > 0 ? pads[0] : pads[pads.length - 1], bowl: next };
}
