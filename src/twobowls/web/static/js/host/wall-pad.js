// @ts-check
// One pad on the wall, as large as the room needs: every mark of the table a small dot, every
// bowl's mean a token that moves as the bowl cools.

import { el, setText, svg } from "../dom.js";
import { toPoint } from "../pad/geometry.js";
import { spreadLabels } from "../pad/labels.js";
import { toneOf } from "../pad/tone.js";
import { trailPath } from "../pad/trails.js";
import { placeWords } from "../pad/wording.js";
import { ground, SIDE, SQUARE, word } from "./wall-ground.js";
import { labelOf, spokenLabel, wayOf } from "./wall-play.js";

/**
 * @typedef {import("./wall-play.js").Marks} Marks
 * @typedef {import("./wall-play.js").Pad} Pad
 * @typedef {import("./wall-play.js").Bowl} Bowl
 * @typedef {Array<{key: string, name: string}>} Rounds
 * @typedef {{token: SVGElement, leader: SVGElement, label: SVGElement, box: SVGElement, text: SVGTextElement}} View
 */

const LABEL = { height: 28, letter: 12.5, margin: 14 };
/** All marks of a round appear within this time, in so many strokes at the most. */
const FILL_MS = 1600;
const MOST_STROKES = 28;
/** More marks than this are drawn smaller. */
const MANY = 300;

export class WallPad {
  #marks = svg("g");
  #ways = svg("g");
  #tokens = svg("g");
  #picture = svg("svg", { class: "wall-pad", viewBox: `-2 -2 ${SIDE + 4} ${SIDE + 4}`, role: "img" });
  #low = el("span");
  #high = el("span");
  /** @type {Map<string, View>} */
  #views = new Map();
  element = el("div", { class: "wall-pad-place" }, this.#picture, el("p", { class: "wall-ends", "aria-hidden": "true" }, this.#low, this.#high));

  constructor() {
    this.#picture.append(...ground(""), word("liked", 10, 24), word("disliked", 10, SIDE - 12), this.#marks, this.#ways, this.#tokens);
  }

  /** @param {Marks} marks @param {Pad} pad @param {Rounds} rounds @param {string} round */
  draw({ bowls }, pad, rounds, round) {
    const ways = bowls.map(({ code }) => wayOf(pad, rounds, round, code).map((point) => toPoint(point, SQUARE)));
    setText(this.#low, `← ${pad.low}`);
    setText(this.#high, `${pad.high} →`);
    this.#picture.setAttribute("aria-label", describe(bowls, pad, rounds, round));
    this.#drawMarks(bowls, pad.rounds[round] ?? {});
    this.#ways.replaceChildren(...ways.map((way) => svg("path", { class: "wall-way", d: trailPath(way) })));
    this.#drawTokens(bowls, ways);
  }

  /** Show nothing of anybody. */
  clear() {
    for (const part of [this.#marks, this.#ways, this.#tokens]) part.replaceChildren();
    this.#views.clear();
    this.#picture.removeAttribute("aria-label");
  }

  /** @param {Bowl[]} bowls @param {Record<string, import("./wall-play.js").Place[]>} places */
  #drawMarks(bowls, places) {
    const crowd = Object.values(places).flat().length > MANY;
    const codes = bowls.map(({ code }) => code);
    const dots = codes.flatMap((code) => (places[code] ?? []).map(([intensity, liking]) => {
      const { x, y } = toPoint({ intensity, liking }, SQUARE);
      return svg("circle", { class: "wall-mark", cx: x, cy: y, r: crowd ? 3 : 4.5, data: { tone: toneOf(code, codes) } });
    }));
    const each = Math.ceil(dots.length / MOST_STROKES) || 1;
    const strokes = Array.from({ length: Math.ceil(dots.length / each) }, (_, index) => {
      const stroke = svg("g", { class: each > 1 ? "wall-stroke" : "wall-stroke alone" });
      stroke.style.animationDelay = `${Math.round(((index * each) / dots.length) * FILL_MS)}ms`;
      stroke.append(...dots.slice(index * each, (index + 1) * each));
      return stroke;
    });
    this.#marks.replaceChildren(...strokes);
  }

  /** @param {Bowl[]} bowls @param {Array<Array<{x: number, y: number}>>} ways */
  #drawTokens(bowls, ways) {
    const all = bowls.map(({ code }) => code);
    const shown = bowls.flatMap((bowl, index) => {
      const dot = ways[index].at(-1);
      return dot ? [{ code: bowl.code, dot, width: this.#write(this.#view(bowl.code, toneOf(bowl.code, all)), labelOf(bowl)), height: LABEL.height }] : [];
    });
    const codes = shown.map(({ code }) => code);
    for (const [code, { token }] of this.#views) if (!codes.includes(code)) { token.remove(); this.#views.delete(code); }
    const boxes = spreadLabels(shown, { left: 0, top: 0, right: SIDE, bottom: SIDE });
    for (const { code, dot } of shown) {
      const { token, leader, label } = /** @type {View} */ (this.#views.get(code));
      const { x, y } = /** @type {import("../pad/labels.js").Box} */ (boxes.get(code));
      leader.setAttribute("x2", String(x - dot.x));
      leader.setAttribute("y2", String(y - dot.y));
      token.style.transform = `translate(${dot.x}px, ${dot.y}px)`;
      label.style.transform = `translate(${x - dot.x}px, ${y - dot.y}px)`;
    }
  }

  /** Write a label, with a box that is as wide as the words are. @param {View} view @param {string} words @returns {number} */
  #write({ box, text }, words) {
    setText(text, words);
    const width = (text.getComputedTextLength() || words.length * LABEL.letter) + LABEL.margin;
    for (const [name, value] of Object.entries({ x: -width / 2, y: -LABEL.height / 2, width, height: LABEL.height })) box.setAttribute(name, String(value));
    return width;
  }

  /** @param {string} code @param {string} tone @returns {View} */
  #view(code, tone) {
    const had = this.#views.get(code);
    if (had) return had;
    const box = svg("rect", { class: "wall-label", rx: 6 });
    const text = svg("text", { class: "wall-label-text", y: 7, "text-anchor": "middle" });
    const label = svg("g", { class: "wall-moves" });
    const token = svg("g", { class: "wall-moves", data: { tone, code } });
    const leader = svg("line", { class: "wall-leader" });
    label.append(box, text);
    token.append(leader, svg("circle", { class: "wall-token", r: 9 }), label);
    this.#tokens.append(token);
    const view = { token, leader, label, box, text };
    this.#views.set(code, view);
    return view;
  }
}

/** @param {Bowl[]} bowls @param {Pad} pad @param {Rounds} rounds @param {string} round */
function describe(bowls, pad, rounds, round) {
  const said = bowls.flatMap((bowl) => {
    const at = wayOf(pad, rounds, round, bowl.code).at(-1);
    return at ? [placeWords(spokenLabel(bowl), pad.name, at)] : [];
  });
  return `${pad.name}, round ${rounds.find(({ key }) => key === round)?.name}. ${said.join(". ")}.`;
}
