// @ts-check
// The open pad with its name, its guide, its wait, and the sliders that say the same.

import { el, setAttribute, setText } from "../../dom.js";
import "../../pad/bowl-pad.js";
import "../../pad/bowl-sliders.js";
import { toneOf } from "../../pad/tone.js";
import { untilSip } from "../cooling.js";
import { isKept, nextOf, tokensOf } from "../records.js";
import { earlierRounds } from "../screens.js";
import { makeWait } from "./wait.js";

/** @typedef {import("../../pad/bowl-pad.js").BowlPad} BowlPad @typedef {import("../../pad/bowl-sliders.js").BowlSliders} BowlSliders */

/**
 * @param {import("../session.js").Session} session
 * @param {import("../undo.js").Undo} undo
 * @param {...Node} tools buttons beside the pad's readout
 */
export function makePadPanel(session, undo, ...tools) {
  const { store, clock } = session;
  const pad = /** @type {BowlPad} */ (document.createElement("bowl-pad"));
  const sliders = /** @type {BowlSliders} */ (document.createElement("bowl-sliders"));
  const wait = makeWait();
  const title = el("h2", { id: "pad-title", class: "hidden-for-eyes", tabindex: -1 });
  const element = el("section", { class: "pad-panel", "aria-labelledby": "pad-title" },
    title, wait.element, el("div", { class: "pad-place" }, pad, sliders, el("div", { class: "pad-tools" }, ...tools)));
  pad.setAttribute("fits", "");

  let shown = "";

  element.addEventListener("pad-place", (event) => {
    const { code, before, after, moved, put } = /** @type {CustomEvent} */ (event).detail;
    const { round, sensation } = store.view;
    if (!round || !sensation) return;
    undo.push({ bowl: code, sensation, round, ...before, kept: isKept(store.index, code, sensation, round) });
    session.record({ kind: "mark", bowl: code, sensation, round, ...after }, moved);
    if (put) pad.selected = store.walk === "bowls" ? null : nextOf(pad.tokens);
    if (store.walk === "bowls") shown = `${round} ${sensation} ${store.view.flight} ${code}`;
    if (store.view.bowl !== code) session.look({ bowl: code }); // words and a note are for it
  });
  element.addEventListener("pad-select", (event) => {
    const { code } = /** @type {CustomEvent} */ (event).detail;
    shown = store.walk === "bowls" ? `${store.view.round} ${store.view.sensation} ${store.view.flight} ${code}` : shown;
    session.look({ bowl: code });
  });

  /** @param {string} code */
  function untilSafe(code) {
    const { table } = store;
    if (!table || store.round?.kind !== "taste") return "";
    return untilSip(table.bowls[code]?.poured_at_ms, clock.now(), table.clock);
  }

  /** Walking bowl by bowl, the one that was sipped comes first. @param {Array<{code: string, next: boolean, intensity: number | null, liking: number | null}>} tokens */
  function chosenOf(tokens) {
    const own = store.walk === "bowls" ? tokens.find(({ code }) => code === store.view.bowl) : undefined;
    if (!own) return nextOf(tokens);
    return own.intensity === null && own.liking === null ? own.code : null;
  }

  function update() {
    const { table, sensation, view, round } = store;
    if (!table || !sensation || !round) return;
    setText(title, sensation.name);
    const key = `${round.key} ${sensation.key} ${view.flight}`;
    const walked = store.walk === "bowls" ? `${key} ${view.bowl}` : key;
    wait.update(key, sensation.wait_s);
    const tokens = tokensOf(store.index, store.codes, sensation.key, round.key, earlierRounds(table, round.key, sensation))
      .map((token) => ({ ...token, sub: untilSafe(token.code), tone: toneOf(token.code, Object.keys(table.bowls)) }));
    // A token chosen on another pad must not be placed on this one by a tap: the next one is.
    if (walked !== shown) pad.selected = chosenOf(tokens);
    shown = walked;
    for (const either of [pad, sliders]) {
      either.sensation = sensation;
      setAttribute(either, "data-round", round.key);
      either.tokens = tokens;
    }
    pad.hidden = view.mode !== "pad";
    sliders.hidden = view.mode === "pad";
  }
  return { element, update, title, choose: (/** @type {string | null} */ code) => { pad.selected = code ?? nextOf(pad.tokens); }, flush: () => { pad.flush(); sliders.flush(); } };
}
