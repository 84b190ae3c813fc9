// @ts-check
// The tray along the pad's lower edge, where tokens wait that have no place yet. Every bowl
// keeps its own slot, so that nothing shifts under the finger when another token leaves.

/** No slot is narrower than a comfortable target. */
export const SLOT_PX = 48;

/**
 * @param {number} count bowls of the flight
 * @param {number} width pixels
 * @param {number} rowHeight pixels
 * @returns {{rows: number, height: number, slots: Array<{x: number, y: number}>}} slot centres,
 *   measured from the tray's top left corner
 */
export function trayLayout(count, width, rowHeight) {
  const most = Math.max(1, Math.floor(width / SLOT_PX));
  const rows = Math.max(1, Math.ceil(count / most));
  const columns = Math.max(1, Math.ceil(count / rows));
  const pitch = width / columns;
  const slots = Array.from({ length: count }, (_, index) => {
    const row = Math.floor(index / columns);
    const inRow = Math.min(columns, count - row * columns);
    const indent = (width - inRow * pitch) / 2;
    return { x: indent + ((index % columns) + 0.5) * pitch, y: (row + 0.5) * rowHeight };
  });
  return { rows, height: rows * rowHeight, slots };
}
