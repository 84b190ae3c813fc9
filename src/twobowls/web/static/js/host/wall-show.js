// @ts-check
// Plays the pads on the wall, one after the other and each from round to round. Whoever wants
// it still may stop it; where less motion is wished it waits for a button or a key.

import { el, keepList, setAttribute, setText } from "../dom.js";
import { toneOf } from "../pad/tone.js";
import { roundsOf, stepFrom, stepsOf } from "./wall-play.js";
import { thumbOf } from "./wall-ground.js";
import { WallPad } from "./wall-pad.js";

/** @typedef {import("./wall-play.js").Marks} Marks @typedef {import("./wall-play.js").Step} Step */

const STEP_MS = 4500;
/** @type {Record<string, number>} keys of keyboards, and of the clickers that speakers hold */
const KEYS = { ArrowRight: 1, PageDown: 1, ArrowLeft: -1, PageUp: -1 };

/** @param {HTMLElement} place @param {Array<{key: string, name: string}>} rounds */
export function makeShow(place, rounds) {
  /** @param {string} id */
  const part = (id) => /** @type {HTMLElement} */ (place.querySelector(`#${id}`));
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const pad = new WallPad();
  const title = el("h2", { class: "wall-title" });
  const none = el("p", { text: "Nobody has placed a bowl on a pad.", hidden: true });
  const play = part("play");
  /** @type {Marks | null} */
  let marks = null;
  /** @type {Step[]} */
  let steps = [];
  /** @type {Step | null} */
  let at = null;
  /** @type {Map<string, string>} the last round shown of each pad */
  const seen = new Map();
  let playing = !still;
  /** @type {any} */
  let timer = null;

  part("stage").append(title, none, pad.element);
  play.addEventListener("click", () => {
    const over = at !== null && stepFrom(steps, at, 1) === at;
    playing = !playing;
    if (playing && over) go(steps[0]);
    else draw();
  });
  part("back").addEventListener("click", () => turn(-1));
  part("on").addEventListener("click", () => turn(1));
  document.addEventListener("keydown", (event) => {
    const by = KEYS[event.key];
    if (!by || place.hidden || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    turn(by);
  });

  /** Somebody turns the page, and wants it to stay there. @param {number} by */
  function turn(by) {
    playing = false;
    if (at) go(stepFrom(steps, at, by));
  }

  /** @param {Step | undefined} step */
  function go(step) {
    if (!step) return;
    at = step;
    seen.set(step.pad, step.round);
    draw();
  }

  function wait() {
    clearTimeout(timer);
    if (!at || !playing) return;
    const next = stepFrom(steps, at, 1);
    if (next === at) playing = false;
    else timer = setTimeout(() => go(next), STEP_MS);
  }

  function draw() {
    wait();
    none.hidden = steps.length > 0;
    for (const each of [pad.element, part("back"), part("on"), play]) each.hidden = !steps.length;
    setText(play, playing ? "Pause" : "Play");
    if (!marks || !at) return;
    const step = at;
    const open = marks.pads.find(({ key }) => key === step.pad);
    if (!open) return;
    setText(title, open.name);
    pad.draw(marks, open, rounds, step.round);
    drawRounds(roundsOf(open, rounds), step);
    drawThumbs(marks, step);
  }

  /** @param {string[]} keys @param {Step} step */
  function drawRounds(keys, step) {
    keepList(part("rounds"), rounds.filter(({ key }) => keys.includes(key)), ({ key }) => key,
      ({ key, name }) => el("button", { type: "button", text: name, onclick: () => { playing = false; if (at) go({ pad: at.pad, round: key }); } }),
      (node, { key }) => setAttribute(node, "aria-pressed", key === step.round ? "true" : "false"));
  }

  /** @param {Marks} all @param {Step} step */
  function drawThumbs(all, step) {
    keepList(part("thumbs"), all.pads.filter((each) => roundsOf(each, rounds).length), ({ key }) => key,
      ({ key, name }) => el("button", { type: "button", onclick: () => { playing = false; go(steps.filter((each) => each.pad === key).at(-1)); } }, el("span"), el("span", { text: name })),
      (node, each) => {
        setAttribute(node, "aria-pressed", each.key === step.pad ? "true" : "false");
        node.firstElementChild?.replaceChildren(thumbOf(all, each, rounds, seen.get(each.key)));
      });
  }

  return {
    /** The tasting has been opened again: nobody sees another's marks. */
    clear() {
      clearTimeout(timer);
      marks = at = null;
      steps = [];
      seen.clear();
      playing = !still;
      pad.clear();
      for (const name of ["names", "thumbs", "rounds"]) part(name).replaceChildren();
    },
    /** The marks as they are now; what is on view stays on view. @param {Marks} now */
    update(now) {
      marks = now;
      steps = stepsOf(now.pads, rounds);
      if (still) for (const step of steps) seen.set(step.pad, step.round);
      keepList(part("names"), now.bowls, ({ code }) => code,
        ({ code }) => el("li", {}, el("span", { class: "wall-dot", data: { tone: toneOf(code, now.bowls.map((bowl) => bowl.code)) } }), el("span", { class: "code", text: code }), el("span", { class: "wall-coffee" })),
        (node, { coffee }) => setText(/** @type {Node} */ (node.lastChild), coffee));
      if (at === null) go(still ? steps.filter((step) => step.pad === steps[0].pad).at(-1) : steps[0]);
      draw();
    },
  };
}
