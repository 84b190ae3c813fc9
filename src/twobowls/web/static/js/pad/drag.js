// @ts-check
// Fingers and mice on the pad: turns pointer events into taps and drags, one pointer at a time.
// Browsers send one move a frame, so each is acted on at once; where the stage is on the screen
// is measured when a press begins, not at each move, which would cost a layout. Knows no scale
// and no token.

import { DRAG_START_PX, distance } from "./geometry.js";

/**
 * @typedef {import("./geometry.js").Point} Point
 *
 * @typedef {object} Handlers
 * @property {(point: Point) => string | null} grab what lies under a press
 * @property {(point: Point, code: string | null) => void} tap
 * @property {(code: string, start: Point, touch: boolean) => void} lift a drag begins
 * @property {(code: string, point: Point) => void} move
 * @property {(code: string, point: Point | null) => void} drop null: the drag was broken off
 */

export class DragControl {
  #stage;
  #on;
  /** @type {{id: number, code: string | null, start: Point, dragging: boolean, touch: boolean} | null} */
  #press = null;
  /** Where the stage is on the screen; null when it may have moved. @type {{left: number, top: number} | null} */
  #box = null;

  /** @param {HTMLElement} stage @param {Handlers} handlers */
  constructor(stage, handlers) {
    this.#stage = stage;
    this.#on = handlers;
    stage.addEventListener("pointerdown", (event) => this.#down(event));
    stage.addEventListener("pointermove", (event) => this.#move(event));
    stage.addEventListener("pointerup", (event) => this.#up(event));
    stage.addEventListener("pointercancel", () => this.cancel());
    stage.addEventListener("lostpointercapture", () => this.cancel());
    const moved = () => { this.#box = null; };
    addEventListener("scroll", moved, { capture: true, passive: true });
    addEventListener("resize", moved);
  }

  /** @param {PointerEvent} event @returns {Point} */
  #point(event) {
    const box = this.#box ??= this.#stage.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  /** @param {PointerEvent} event */
  #down(event) {
    if (!event.isPrimary || event.button !== 0) return;
    // A mouse that is let go beside the pad tells nobody; its next press shows that the last is over.
    if (this.#press?.id === event.pointerId) this.cancel();
    if (this.#press) return;
    this.#box = null;
    const start = this.#point(event);
    const code = this.#on.grab(start);
    this.#press = { id: event.pointerId, code, start, dragging: false, touch: event.pointerType === "touch" };
    if (code !== null) {
      this.#stage.setPointerCapture(event.pointerId);
      event.preventDefault();
    }
  }

  /** @param {PointerEvent} event */
  #move(event) {
    const press = this.#press;
    if (!press || event.pointerId !== press.id) return;
    if (press.code === null) return;
    const now = this.#point(event);
    if (!press.dragging && distance(press.start, now) > DRAG_START_PX) {
      press.dragging = true;
      this.#on.lift(press.code, press.start, press.touch);
    }
    if (press.dragging) this.#on.move(press.code, now);
  }

  /** @param {PointerEvent} event */
  #up(event) {
    const press = this.#press;
    if (!press || event.pointerId !== press.id) return;
    this.#press = null;
    const end = this.#point(event);
    if (press.dragging && press.code !== null) this.#on.drop(press.code, end);
    else if (distance(press.start, end) <= 2 * DRAG_START_PX) this.#on.tap(end, press.code);
  }

  /** The system took the finger away (a call, a scroll): the token goes back. */
  cancel() {
    const press = this.#press;
    this.#press = null;
    if (press?.dragging && press.code !== null) this.#on.drop(press.code, null);
  }
}
