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
 * @param {(sensation: import("../types.js").Sensation) => void} showGuide
 */
export function makePadPanel(session, undo, showGuide) {
  const { store, clock } = session;
  const pad = /** @type {BowlPad} */ (document.createElement("bowl-pad"));
  const sliders = /** @type {BowlSliders} */ (document.createElement("bowl-sliders"));
  const wait = makeWait();
  const title = el("h2", { id: "pad-title", tabindex: -1 });
  const guide = el("button", { type: "button", class: "plain", text: "What is this?", onclick: () => { if (store.sensation) showGuide(store.sensation); } });
  const mode = el("button", { type: "button", class: "plain", onclick: () => session.look({ mode: store.view.mode === "pad" ? "sliders" : "pad" }) });
  const element = el("section", { class: "pad-panel", "aria-labelledby": "pad-title" },
    el("div", { class: "pad-head" }, title, guide), wait.element, el("div", { class: "pad-place" }, pad, sliders), el("div", { class: "pad-foot" }, mode));

  let shown = "";

  element.addEventListener("pad-place", (event) => {
    const { code, before, after, moved, put } = /** @type {CustomEvent} */ (event).detail;
    const { round, sensation } = store.view;
    if (!round || !sensation) return;
    undo.push({ bowl: code, sensation, round, ...before, kept: isKept(store.index, code, sensation, round) });
    session.record({ kind: "mark", bowl: code, sensation, round, ...after }, moved);
    if (put) pad.selected = nextOf(pad.tokens);
    if (store.view.bowl !== code) session.look({ bowl: code }); // words and a note are for it
  });
  element.addEventListener("pad-select", (event) => session.look({ bowl: /** @type {CustomEvent} */ (event).detail.code }));

  /** @param {string} code */
  function untilSafe(code) {
    const { table } = store;
    if (!table || store.round?.kind !== "taste") return "";
    return untilSip(table.bowls[code]?.poured_at_ms, clock.now(), table.clock);
  }

  function update() {
    const { table, sensation, view, round } = store;
    if (!table || !sensation || !round) return;
    setText(title, sensation.name);
    setText(mode, view.mode === "pad" ? "Use sliders instead" : "Use the pad instead");
    const key = `${round.key} ${sensation.key} ${view.flight}`;
    wait.update(key, sensation.wait_s);
    const tokens = tokensOf(store.index, store.codes, sensation.key, round.key, earlierRounds(table, round.key, sensation))
      .map((token) => ({ ...token, sub: untilSafe(token.code), tone: toneOf(token.code, Object.keys(table.bowls)) }));
    // A token chosen on another pad must not be placed on this one by a tap: the next one is.
    if (key !== shown) pad.selected = nextOf(tokens);
    shown = key;
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
