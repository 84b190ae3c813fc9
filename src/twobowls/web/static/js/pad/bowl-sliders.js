// @ts-check
// <bowl-sliders>: the same pad as pairs of labelled native sliders, one pair a bowl. Takes the
// same properties as <bowl-pad> and sends the same pad-place events.

import { el, keepList, setAttribute, setText } from "../dom.js";
import { Settler } from "./settle.js";
import { likingWords, strengthWords } from "./wording.js";

/** @typedef {import("./token.js").TokenData} TokenData @typedef {import("./settle.js").Standing} Standing */

/** @param {"intensity" | "liking"} scale @param {string} code @param {string} name @param {string} low @param {string} high */
function makeScale(scale, code, name, low, high) {
  return el("label", { class: "slider", data: { scale } },
    el("span", { class: "slider-name" }, name[0].toUpperCase() + name.slice(1), el("output", { class: "slider-words" })),
    el("input", { type: "range", min: 0, max: 100, step: 1, "aria-label": `${code}: ${name}`, data: { scale } }),
    el("span", { class: "slider-ends", "aria-hidden": "true" }, el("span", { text: low }), el("span", { text: high })));
}

export class BowlSliders extends HTMLElement {
  /** @type {TokenData[]} */
  #tokens = [];
  #sensation = { key: "", name: "", low: "", high: "" };
  #settler = new Settler((code, before, after, moved) =>
    this.dispatchEvent(new CustomEvent("pad-place", { detail: { code, before, after, moved }, bubbles: true })));

  get tokens() { return this.#tokens; }
  set tokens(tokens) { this.#tokens = tokens; this.#draw(); }

  get sensation() { return this.#sensation; }
  set sensation(sensation) {
    if (sensation.key !== this.#sensation.key) {
      this.flush();
      this.replaceChildren();
    }
    this.#sensation = sensation;
    this.dataset.sensation = sensation.key;
  }

  connectedCallback() {
    this.addEventListener("input", this.#slide);
    this.addEventListener("change", this.#rest);
    this.#draw();
  }

  disconnectedCallback() {
    this.removeEventListener("input", this.#slide);
    this.removeEventListener("change", this.#rest);
    this.flush();
  }

  flush() { this.#settler.flush(); }

  /** @param {EventTarget | null} target @returns {{code: string, range: HTMLInputElement} | null} */
  #at(target) {
    const code = target instanceof HTMLInputElement ? target.closest("fieldset")?.dataset.code : undefined;
    return target instanceof HTMLInputElement && code ? { code, range: target } : null;
  }

  /** @param {Event} event */
  #slide = ({ target }) => {
    const at = this.#at(target);
    if (!at) return;
    const { intensity = null, liking = null } = this.#standing(at.code);
    this.#settler.move(at.code, { intensity, liking }, { intensity, liking, [at.range.dataset.scale ?? ""]: at.range.valueAsNumber });
    this.#draw();
  };

  /** The finger has left the slider; keys settle by themselves after a rest. @param {Event} event */
  #rest = ({ target }) => {
    const at = this.#at(target);
    if (at && !at.range.matches(":focus-visible")) this.#settler.settle(at.code);
  };

  /** @param {string} code @returns {Standing} */
  #standing(code) {
    const { intensity = null, liking = null } = this.#settler.at(code) ?? this.#tokens.find((token) => token.code === code) ?? {};
    return { intensity, liking };
  }

  #draw() {
    if (!this.isConnected) return;
    const { name, low, high } = this.#sensation;
    keepList(this, this.#tokens, ({ code }) => code,
      ({ code }) => el("fieldset", { class: "slider-pair", data: { code } }, el("legend", { class: "code", text: code }),
        makeScale("intensity", code, `${name}, how strong`, low, high), makeScale("liking", code, "how much you like it", "disliked", "liked")),
      (node, { code }) => {
        const standing = this.#standing(code);
        this.#show(node, "intensity", standing.intensity, strengthWords(standing.intensity));
        this.#show(node, "liking", standing.liking, likingWords(standing.liking));
      });
  }

  /** @param {HTMLElement} pair @param {"intensity" | "liking"} scale @param {number | null} value @param {string} words */
  #show(pair, scale, value, words) {
    const range = /** @type {HTMLInputElement} */ (pair.querySelector(`input[data-scale="${scale}"]`));
    const text = value === null ? "not yet" : words;
    if (value !== null && Math.round(value) !== range.valueAsNumber) range.value = String(Math.round(value));
    if (value === null) range.value = "50";
    range.classList.toggle("unset", value === null);
    setAttribute(range, "aria-valuetext", value === null ? "not placed yet" : `${words}, ${Math.round(value)}`);
    setText(/** @type {Element} */ (range.closest("label")?.querySelector("output")), text);
  }
}

customElements.define("bowl-sliders", BowlSliders);
