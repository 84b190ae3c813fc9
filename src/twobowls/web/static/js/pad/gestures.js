// @ts-check
// What fingers, mice, keys and sliders mean on a pad: choose a token, carry it, put it down.

import { DragControl } from "./drag.js";
import { clamp, dragged, hit, labelAt, toPlace } from "./geometry.js";
import { keyMove, stepOf } from "./keys.js";
import { isPlaced, targetsOf } from "./layout.js";

/**
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {import("./settle.js").Standing} Standing
 *
 * @typedef {object} Pad what a pad lets its gestures do
 * @property {import("./stage.js").Stage} stage
 * @property {() => string | null} selected
 * @property {(code: string) => Standing} standing
 * @property {(code: string) => void} choose
 * @property {(code: string, after: Standing) => void} place put it down for good
 * @property {(code: string, after: Standing) => void} shift move it while keys may still follow
 * @property {(code: string, place: Standing) => void} show say where it would be
 * @property {(code: string) => void} settle the keys leave it
 * @property {() => void} redraw
 */

const UNPLACED = Object.freeze({ intensity: null, liking: null });

/** How far below the square a token must be let go to stay in the tray. */
const TRAY_EDGE_PX = 10;

export class Gestures {
  /** @type {{code: string, start: Point, dot: Point, at: Point, touch: boolean} | null} */
  #held = null;
  #pad;
  #control;

  /** @param {HTMLElement} element @param {Pad} pad */
  constructor(element, pad) {
    this.#pad = pad;
    this.#control = new DragControl(pad.stage.element, {
      grab: (point) => hit(point, targetsOf(pad.stage.layout)),
      tap: (point, code) => this.#tap(point, code),
      lift: (code, start, touch) => this.#lift(code, start, touch),
      move: (_code, point) => this.#drag(point),
      drop: (_code, point) => this.#drop(point),
    });
    element.addEventListener("keydown", (event) => this.#key(event));
    element.addEventListener("input", (event) => this.#slide(event));
  }

  /** Break off what the finger is at. */
  cancel() {
    this.#control.cancel();
  }

  /** The code of the token under the finger, or null. */
  get held() {
    return this.#held?.code ?? null;
  }

  /** @param {Point} point */
  #inside({ y }) {
    return y <= this.#pad.stage.layout.square.size + TRAY_EDGE_PX;
  }

  /** @param {Point} point @param {string | null} code */
  #tap(point, code) {
    const selected = this.#pad.selected();
    const { layout } = this.#pad.stage;
    const waits = selected !== null && !isPlaced(this.#pad.standing(selected));
    const inside = this.#inside(point);
    // A token from the tray may be put upon the dot of one that stands there; its label means that one.
    const meant = waits && inside ? labelAt(point, targetsOf(layout).filter((each) => layout.onPad.has(each.code))) : code;
    if (meant !== null) this.#pad.choose(meant);
    else if (selected !== null && inside) this.#pad.place(selected, toPlace(point, layout.square));
  }

  /** @param {string} code @param {Point} start @param {boolean} touch */
  #lift(code, start, touch) {
    const dot = this.#pad.stage.layout.dots.get(code) ?? start;
    this.#held = { code, start, dot, at: dot, touch };
    this.#pad.choose(code);
    this.#pad.stage.lift(code, true);
  }

  /** @param {Point} point */
  #drag(point) {
    const held = this.#held;
    if (!held) return;
    held.at = dragged(held.start, point, held.dot, held.touch);
    const { square, height, trayLeft, trayWidth } = this.#pad.stage.layout;
    const inside = this.#inside(held.at);
    const place = toPlace(held.at, square);
    const edge = square.size - square.inset;
    const dot = {
      x: inside ? clamp(held.at.x, square.inset, edge) : clamp(held.at.x, trayLeft, trayLeft + trayWidth),
      y: Math.min(inside ? edge : height, Math.max(square.inset, held.at.y)),
    };
    this.#pad.stage.drag(held.code, dot, inside);
    this.#pad.show(held.code, inside ? place : UNPLACED);
  }

  /** @param {Point | null} point null when the drag was broken off */
  #drop(point) {
    const held = this.#held;
    if (!held) return;
    if (point) this.#drag(point);
    this.#held = null;
    this.#pad.stage.lift(held.code, false);
    const inside = this.#inside(held.at);
    if (point) this.#pad.place(held.code, inside ? toPlace(held.at, this.#pad.stage.layout.square) : UNPLACED);
    else this.#pad.redraw();
  }

  /** @param {Event} event @returns {string | null} */
  #codeOf(event) {
    const token = event.target instanceof Element ? event.target.closest(".pad-token") : null;
    return token instanceof HTMLElement ? (token.dataset.code ?? null) : null;
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const code = this.#codeOf(event);
    if (code === null || event.altKey || event.ctrlKey || event.metaKey) return;
    const by = stepOf(event);
    const move = by ? null : keyMove(event, this.#pad.standing(code));
    if (by) {
      event.preventDefault();
      this.#pad.settle(code);
      this.#pad.stage.step(code, by);
    }
    if (move === null) return;
    event.preventDefault();
    this.#pad.shift(code, { intensity: move.intensity, liking: move.liking });
    if (move.scale) this.#pad.stage.focus(code, move.scale);
  }

  /** A slider was moved by itself, as screen readers do. @param {Event} event */
  #slide(event) {
    const code = this.#codeOf(event);
    const range = event.target;
    if (code === null || !(range instanceof HTMLInputElement)) return;
    const { intensity, liking } = this.#pad.standing(code);
    this.#pad.shift(code, { intensity, liking, [range.dataset.scale ?? ""]: range.valueAsNumber });
  }
}
