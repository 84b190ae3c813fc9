// @ts-check
// What all pads on the wall stand on, large and little, and the little ones to choose by.

import { svg } from "../dom.js";
import { toPoint } from "../pad/geometry.js";
import { toneOf } from "../pad/tone.js";
import { wayOf } from "./wall-play.js";

export const SIDE = 420;
export const SQUARE = { size: SIDE, inset: 14 };

/** @param {string} name */
export const ground = (name) => [
  svg("rect", { class: "wall-up", width: SIDE, height: SIDE, rx: 10 }),
  svg("path", { class: "wall-down", d: `M0 ${SIDE / 2}H${SIDE}V${SIDE - 10}a10 10 0 0 1-10 10H10a10 10 0 0 1-10-10Z` }),
  svg("path", { class: "wall-neutral", d: `M0 ${SIDE / 2}H${SIDE}` }),
  svg("rect", { class: `wall-frame ${name}`, width: SIDE, height: SIDE, rx: 10 }),
];

/** @param {string} text @param {number} x @param {number} y @param {string} [anchor] */
export function word(text, x, y, anchor = "start") {
  const node = svg("text", { class: "wall-word", x, y, "text-anchor": anchor });
  node.textContent = text;
  return node;
}

/** A little pad with the means alone. @param {import("./wall-play.js").Marks} marks @param {import("./wall-play.js").Pad} pad @param {Array<{key: string}>} rounds @param {string | undefined} round */
export function thumbOf({ bowls }, pad, rounds, round) {
  const picture = svg("svg", { class: "wall-thumb", viewBox: `-4 -4 ${SIDE + 8} ${SIDE + 8}`, "aria-hidden": "true" });
  picture.append(...ground("small"));
  const codes = bowls.map(({ code }) => code);
  for (const code of codes) {
    const at = round === undefined ? undefined : wayOf(pad, rounds, round, code).at(-1);
    if (!at) continue;
    const { x, y } = toPoint(at, SQUARE);
    picture.append(svg("circle", { class: "wall-token", cx: x, cy: y, r: 26, data: { tone: toneOf(code, codes) } }));
  }
  return picture;
}
