// @ts-check
// The drawn pad: square, tray, tokens and what lies behind them. Shows what it is told and
// keeps no state of the tasting.

import { el, setText } from "../dom.js";
import { Backdrop } from "./backdrop.js";
import { padLayout, sideIn } from "./layout.js";
import { TokenView } from "./token.js";

/**
 * @typedef {import("./token.js").TokenData} TokenData
 * @typedef {import("./geometry.js").Point} Point
 *
 * @typedef {object} Picture
 * @property {TokenData[]} tokens
 * @property {{name: string, low: string, high: string}} sensation
 * @property {import("./backdrop.js").Ellipse[]} ellipses
 * @property {string | null} selected
 * @property {string | null} stop the one token that the Tab key stops at
 * @property {string | null} held the token under the finger, which is left where it is
 */

/** @param {string} name @param {string} text */
const axis = (name, text) => el("span", { class: `pad-axis ${name}`, "aria-hidden": "true", text });

/** Labels float this far above a token that is being dragged. */
const LIFTED_LABEL_PX = -30;

export class Stage {
  #low = el("span", { class: "pad-end low" });
  #high = el("span", { class: "pad-end high" });
  #backdrop = new Backdrop();
  #tray = el("div", { class: "pad-tray" }, el("span", { class: "pad-tray-words", "aria-hidden": "true", text: "All placed. Move any of them as you like." }));
  #square = el("div", { class: "pad-square" },
    axis("up", "liked"), axis("middle", "neither"), axis("down", "disliked"), this.#low, this.#high, this.#backdrop.element);
  /** @type {Map<string, TokenView>} */
  #views = new Map();
  element = el("div", { class: "pad-stage" }, this.#square, this.#tray);
  /** What the stage may fill; its height counts where the pad is told to fit. */
  room = el("div", { class: "pad-room" }, this.element);
  layout = padLayout([], 300, true);

  /** @param {boolean} readonly @param {boolean} fits whether the pad keeps to the height of its room */
  constructor(readonly, fits = false) {
    this.readonly = readonly;
    this.fits = fits;
    this.#tray.hidden = readonly;
  }

  /** @param {Picture} picture */
  draw({ tokens, sensation, ellipses, selected, held, stop }) {
    const { clientWidth: width, clientHeight: height } = this.room;
    if (!width || (this.fits && !height)) return;
    const side = this.fits ? sideIn(tokens.length, { width, height }, !this.readonly) : width;
    this.layout = padLayout(tokens, side, !this.readonly, width);
    const { onPad, dots, labels, square, trayTop, trayLeft } = this.layout;
    this.element.style.width = `${side}px`;
    this.element.style.height = `${this.layout.height}px`;
    this.#tray.style.left = this.#tray.style.right = `${trayLeft}px`;
    this.#square.style.height = `${square.size}px`;
    this.#tray.style.top = `${trayTop}px`;
    this.#tray.classList.toggle("empty", onPad.size === tokens.length);
    setText(this.#low, `← ${sensation.low}`);
    setText(this.#high, `${sensation.high} →`);
    this.#keepViews(tokens);
    for (const token of tokens) {
      const view = this.#view(token.code);
      view.update(token, sensation.name);
      view.select(token.code === selected);
      view.stop(token.code === stop);
      if (token.code !== held) this.#put(view, dots.get(token.code), labels.get(token.code));
    }
    this.#backdrop.draw(square, tokens, onPad, ellipses, selected);
  }

  /** Show a token where the finger has it. @param {string} code @param {Point} dot @param {boolean} inside */
  drag(code, dot, inside) {
    const view = this.#view(code);
    view.moveTo(dot);
    view.labelAt({ x: 0, y: LIFTED_LABEL_PX });
    this.#backdrop.follow(code, inside ? dot : undefined);
  }

  /** @param {string} code @param {boolean} on */
  lift(code, on) {
    this.#view(code).lift(on);
    this.element.classList.toggle("dragging", on);
  }

  /** Let the focus go to one of a token's two sliders. @param {string} code @param {"intensity" | "liking"} scale */
  focus(code, scale) {
    const view = this.#view(code);
    (scale === "intensity" ? view.strength : view.liking).focus({ preventScroll: true });
  }

  /** Let the focus go to the next token, or to the one before. @param {string} code @param {number} by */
  step(code, by) {
    const codes = [...this.#views.keys()];
    this.focus(codes[(codes.indexOf(code) + by + codes.length) % codes.length], "intensity");
  }

  /** @param {string} code */
  #view(code) {
    return /** @type {TokenView} */ (this.#views.get(code));
  }

  /** @param {TokenData[]} tokens */
  #keepViews(tokens) {
    const codes = tokens.map(({ code }) => code);
    if (codes.join() === [...this.#views.keys()].join()) return;
    for (const view of this.#views.values()) view.element.remove();
    this.#views = new Map(codes.map((code, index) => [code, new TokenView(code, index, this.readonly)]));
    this.element.append(...[...this.#views.values()].map(({ element }) => element));
  }

  /** @param {TokenView} view @param {Point | undefined} dot @param {Point | undefined} label */
  #put(view, dot, label) {
    if (!dot || !label) return;
    view.moveTo(dot);
    view.labelAt({ x: label.x - dot.x, y: label.y - dot.y });
  }
}
