// @ts-check
// One bowl's token on a pad: a dot at the exact place, a label with the code, and the two
// native sliders by which keyboards and screen readers move it.

import { el, setAttribute, setText } from "../dom.js";
import { TONES } from "./tone.js";
import { likingWords, placeWords, strengthWords } from "./wording.js";

/**
 * @typedef {object} TokenData
 * @property {string} code the bowl's label
 * @property {number | null} intensity
 * @property {number | null} liking
 * @property {Array<{round: string, intensity: number | null, liking: number | null}>} [trail] earlier rounds, oldest first
 * @property {string} [sub] a few characters below the code while it waits (time until it is cool enough for small sips)
 * @property {boolean} [next] the bowl to taste next
 * @property {string} [tone] of the bowl, "1" to "8"; by its place on this pad if it is not said
 *
 * @typedef {import("./geometry.js").Point} Point
 */

export class TokenView {
  /** Where the label was put last: to say it again would cost a drag its frames. */
  #labelled = "";

  /** @param {string} code @param {number} index @param {boolean} readonly */
  constructor(code, index, readonly) {
    this.code = code;
    this.dot = el("span", { class: "pad-dot", "aria-hidden": "true" });
    this.text = el("span", { class: "pad-code", text: code });
    this.sub = el("span", { class: "pad-sub" });
    this.label = el("span", { class: "pad-label", "aria-hidden": "true" }, this.text, this.sub);
    this.strength = this.#range("intensity", `${code}: how strong`);
    this.liking = this.#range("liking", `${code}: how much you like it`);
    const sliders = readonly ? [] : [this.strength, this.liking];
    this.element = el(
      "div",
      { class: "pad-token", role: readonly ? "img" : "group", "aria-label": code, data: { code, tone: String((index % TONES) + 1) } },
      this.dot, this.label, ...sliders,
    );
    this.readonly = readonly;
  }

  /** @param {"intensity" | "liking"} scale @param {string} name */
  #range(scale, name) {
    return el("input", { type: "range", class: "pad-range", min: 0, max: 100, step: 1, "aria-label": name, data: { scale } });
  }

  /** @param {TokenData} token @param {string} sensation */
  update(token, sensation) {
    const placed = token.intensity !== null || token.liking !== null;
    const half = placed && (token.intensity === null || token.liking === null);
    const { element } = this;
    element.dataset.placed = String(placed);
    if (token.tone) element.dataset.tone = token.tone;
    element.classList.toggle("half", half);
    element.classList.toggle("next", Boolean(token.next) && !placed);
    setText(this.sub, placed ? "" : (token.sub ?? ""));
    if (this.readonly) setAttribute(element, "aria-label", placeWords(token.code, sensation, token));
    this.#say(this.strength, token.intensity, strengthWords);
    this.#say(this.liking, token.liking, likingWords);
  }

  /** @param {HTMLInputElement} range @param {number | null} value @param {(value: number | null) => string} words */
  #say(range, value, words) {
    range.value = String(Math.round(value ?? 50));
    setAttribute(range, "aria-valuetext", value === null ? "not placed yet" : `${words(value)}, ${Math.round(value)}`);
  }

  /** @param {Point} dot stage pixels */
  moveTo({ x, y }) {
    this.element.style.transform = `translate(${x}px, ${y}px)`;
  }

  /** @param {Point} by from the dot to the label's middle */
  labelAt({ x, y }) {
    const there = `translate(${x}px, ${y}px) translate(-50%, -50%)`;
    if (there !== this.#labelled) this.label.style.transform = this.#labelled = there;
  }

  /** @param {boolean} on */
  select(on) {
    this.element.classList.toggle("selected", on);
  }

  /** Whether the Tab key stops here. @param {boolean} on */
  stop(on) {
    for (const range of [this.strength, this.liking]) range.tabIndex = on ? 0 : -1;
  }

  /** @param {boolean} on */
  lift(on) {
    this.element.classList.toggle("lifted", on);
  }
}
