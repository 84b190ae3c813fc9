// @ts-check
// Where every dot and label of a pad stands, from the tokens and the room that there is. Pure.

import { toPoint } from "./geometry.js";
import { labelWidth, spreadLabels } from "./labels.js";
import { trayLayout } from "./tray.js";

/**
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {import("./geometry.js").Square} Square
 * @typedef {import("./labels.js").Box} Box
 * @typedef {{code: string, intensity: number | null, liking: number | null, sub?: string}} Placed
 *
 * @typedef {object} PadLayout
 * @property {Square} square
 * @property {number} height of the whole stage, pixels
 * @property {number} trayTop pixels
 * @property {number} trayLeft pixels from the square's left edge; negative where the tray is wider
 * @property {number} trayWidth pixels
 * @property {Map<string, Point>} dots every token's dot, on the pad or in the tray
 * @property {Map<string, Box>} labels
 * @property {Map<string, Point>} onPad the dots of those that have a place
 */

/** Room for a dot at 0 or 100 to lie wholly inside the square. */
export const INSET_PX = 14;
export const LABEL_HEIGHT_PX = 26;
export const TRAY_ROW_PX = 66;
const TRAY_GAP_PX = 6;
const WAITING_LABEL_PX = 24;
/** A waiting dot stands this far above its slot's middle: higher when a time stands below. */
const WAITING_DOT_PX = { plain: -15, timed: -21 };

/** @param {{intensity: number | null, liking: number | null}} standing */
export const isPlaced = ({ intensity, liking }) => intensity !== null || liking !== null;

/** A token of which one scale only is judged sits at the middle of the other. @param {{intensity: number | null, liking: number | null}} standing */
export const placeOf = ({ intensity, liking }) => ({ intensity: intensity ?? 50, liking: liking ?? 50 });

/**
 * The side of the largest square that leaves room for the tray below it.
 * @param {number} count bowls
 * @param {{width: number, height: number}} room pixels
 * @param {boolean} tray whether there is one
 * @returns {number} pixels
 */
export function sideIn(count, { width, height }, tray) {
  const below = tray ? TRAY_GAP_PX + trayLayout(count, width, TRAY_ROW_PX).height : 0;
  return Math.max(4 * INSET_PX, Math.floor(Math.min(width, height - below)));
}

/**
 * @param {Placed[]} tokens in the seat's order
 * @param {number} width of the square, pixels
 * @param {boolean} tray whether there is one
 * @param {number} [trayWidth] of the tray, pixels; it lies centred below the square
 * @returns {PadLayout}
 */
export function padLayout(tokens, width, tray, trayWidth = width) {
  const square = { size: width, inset: INSET_PX };
  const { height, slots } = trayLayout(tokens.length, trayWidth, TRAY_ROW_PX);
  const trayLeft = (width - trayWidth) / 2;
  const trayTop = width + TRAY_GAP_PX;
  const rise = WAITING_DOT_PX[tokens.some((token) => token.sub && !isPlaced(token)) ? "timed" : "plain"];
  /** @type {PadLayout} */
  const layout = { square, trayTop, trayLeft, trayWidth, height: tray ? trayTop + height : width, dots: new Map(), labels: new Map(), onPad: new Map() };
  tokens.forEach((token, index) => {
    const { code } = token;
    if (isPlaced(token)) layout.onPad.set(code, toPoint(placeOf(token), square));
    const waiting = { x: trayLeft + slots[index].x, y: trayTop + slots[index].y + rise };
    layout.dots.set(code, layout.onPad.get(code) ?? waiting);
    layout.labels.set(code, { x: waiting.x, y: waiting.y + WAITING_LABEL_PX, width: labelWidth(code), height: LABEL_HEIGHT_PX });
  });
  const boxes = [...layout.onPad].map(([code, dot]) => ({ code, dot, width: labelWidth(code), height: LABEL_HEIGHT_PX }));
  for (const [code, box] of spreadLabels(boxes, { left: 0, top: 0, right: width, bottom: width })) layout.labels.set(code, box);
  return layout;
}

/**
 * What the fingers can hit.
 * @param {PadLayout} layout
 */
export function targetsOf(layout) {
  return [...layout.dots].map(([code, dot]) => ({ code, dot, label: /** @type {Box} */ (layout.labels.get(code)) }));
}
