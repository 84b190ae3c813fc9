// @ts-check
// What lies behind the tokens: trails with their ghosts, leader lines to labels, ellipses.

import { svg } from "../dom.js";
import { ellipseBox, toPoint } from "./geometry.js";
import { spreadLabels } from "./labels.js";
import { ghostOpacity, trailPath } from "./trails.js";

/**
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {import("./geometry.js").Square} Square
 * @typedef {import("./token.js").TokenData} TokenData
 * @typedef {{code: string, intensity: number, liking: number, rx: number, ry: number, angle?: number}} Ellipse
 */

export class Backdrop {
  element = svg("svg", { class: "pad-backdrop", "aria-hidden": "true" });
  /** @type {Map<string, {path: SVGPathElement, ghosts: Point[]}>} */
  #trails = new Map();

  /**
   * @param {Square} square
   * @param {TokenData[]} tokens
   * @param {Map<string, Point>} dots of the tokens that are on the pad
   * @param {Ellipse[]} ellipses
   * @param {string | null} selected
   */
  draw(square, tokens, dots, ellipses, selected) {
    this.element.setAttribute("viewBox", `0 0 ${square.size} ${square.size}`);
    this.#trails.clear();
    /** @type {SVGElement[]} */
    const shapes = ellipses.map((each) => this.#ellipse(each, square));
    for (const token of tokens) shapes.push(this.#trail(token, square, dots.get(token.code), token.code === selected));
    this.element.replaceChildren(...shapes, ...this.#names(square, dots, selected));
  }

  /** Let a trail's end follow its token. @param {string} code @param {Point | undefined} dot */
  follow(code, dot) {
    const trail = this.#trails.get(code);
    if (trail?.ghosts.length) trail.path.setAttribute("d", trailPath(dot ? [...trail.ghosts, dot] : trail.ghosts));
  }

  /** Ghosts are named while their tokens wait, and where one is chosen. @param {Square} square @param {Map<string, Point>} dots @param {string | null} selected */
  #names(square, dots, selected) {
    const named = [...this.#trails].flatMap(([code, { ghosts }]) => {
      const dot = ghosts[ghosts.length - 1];
      return dot && (code === selected || !dots.has(code)) ? [{ code, dot, width: 7.2 * code.length, height: 10 }] : [];
    });
    const places = spreadLabels(named, { left: 0, top: 0, right: square.size, bottom: square.size });
    return [...places].map(([code, { x, y }]) => svg("text", { class: "pad-ghost-name", x, y: y + 4, text: code }));
  }

  /** @param {Ellipse} ellipse @param {Square} square */
  #ellipse(ellipse, square) {
    const { x, y, rx, ry, rotate } = ellipseBox(ellipse, square);
    return svg("ellipse", {
      class: "pad-ellipse", data: { code: ellipse.code },
      cx: 0, cy: 0, rx, ry, transform: `translate(${x} ${y}) rotate(${rotate})`,
    });
  }

  /** @param {TokenData} token @param {Square} square @param {Point | undefined} dot @param {boolean} strong */
  #trail(token, square, dot, strong) {
    const group = svg("g", { class: strong ? "pad-trail strong" : "pad-trail", data: { code: token.code } });
    const ghosts = (token.trail ?? [])
      .filter(({ intensity, liking }) => intensity !== null || liking !== null)
      .map(({ intensity, liking }) => toPoint({ intensity: intensity ?? 50, liking: liking ?? 50 }, square));
    const path = svg("path", { d: trailPath(dot ? [...ghosts, dot] : ghosts) });
    group.append(path, ...ghosts.map(({ x, y }, index) =>
      svg("circle", { class: "pad-ghost", cx: x, cy: y, r: 5, "stroke-opacity": ghostOpacity(index, ghosts.length) })));
    this.#trails.set(token.code, { path, ghosts });
    return group;
  }
}
