// @ts-check
// "What is this?": ten seconds of reading about one sensation.

import { el } from "../../dom.js";

/** @param {string} term @param {string} text */
const part = (term, text) => el("div", { class: "guide-part" }, el("dt", { text: term }), el("dd", { text }));

/** @param {import("../types.js").Sensation} sensation @returns {Node[]} */
export function guideParts({ low, high, guide }) {
  return [
    el("dl", { class: "guide" },
      part("What it is", guide.what),
      part("How to notice it", guide.notice),
      part("Think of", guide.like.join("; ")),
      part("Often taken for it, or it for that", guide.mistaken_for),
      part("The line", `From left, ${low}, to right, ${high}. Up is what you like, down what you do not; the middle line is neither.`)),
  ];
}
