// @ts-check
// The screen of a round, all of it in sight at once: bowls, pads, the open pad, the way onward. The
// rest lies on sheets.

import { el } from "../../dom.js";
import { makeBottom } from "../panels/bottom.js";
import { makeBowlWords } from "../panels/bowl-words.js";
import { makeBowls } from "../panels/bowls.js";
import { makePadPanel } from "../panels/pad.js";
import { makePicks } from "../panels/picks.js";
import { makeRounds } from "../panels/rounds.js";
import { makeSensations } from "../panels/sensations.js";
import { makeSheet } from "../panels/sheet.js";
import { tokensOf } from "../records.js";
import { Undo } from "../undo.js";

/**
 * @param {import("../session.js").Session} session
 * @param {(sensation: import("../types.js").Sensation) => void} showGuide
 * @param {Node} card what else the sheet of the rounds holds
 */
export function makeTasting(session, showGuide, card) {
  const { store } = session;
  const undo = new Undo();
  const bowls = makeBowls(session);
  const rounds = makeRounds(session, () => more.close());
  const more = makeSheet("more", rounds.element, card);
  const sensations = makeSensations(session);
  const picks = makePicks(session);
  const words = makeBowlWords(session);
  const wordsSheet = makeSheet("words", words.element);
  wordsSheet.element.addEventListener("close", () => words.flush());
  const toWords = () => wordsSheet.open("Words and a note");
  const pad = makePadPanel(session, undo, picks.again,
    el("button", { type: "button", class: "tool", text: "?", "aria-label": "What is this?", onclick: () => { if (store.sensation) showGuide(store.sensation); } }),
    el("button", { type: "button", class: "tool", text: "Words", "aria-label": "Words and a note", onclick: toWords }));
  const bottom = makeBottom(session, undo, { toPad: () => pad.title.focus({ preventScroll: true }), toWords, choose: pad.choose });
  const element = el("div", { class: "screen", data: { screen: "tasting" } }, sensations.element, bowls.element, picks.element, picks.said, pad.element, more.element, wordsSheet.element);

  const flush = () => { pad.flush(); words.flush(); };
  store.addEventListener("leave", flush);
  addEventListener("pagehide", flush);
  document.addEventListener("visibilitychange", () => { if (document.hidden) flush(); });

  function next() {
    const { view, sensation } = store;
    if (!sensation || !view.round) return undefined;
    return tokensOf(store.index, store.codes, sensation.key, view.round, []).find((token) => token.next)?.code;
  }

  function tick() {
    bowls.update(next());
    pad.update();
  }

  function update() {
    for (const part of [rounds, sensations, picks, words, bottom]) part.update();
    tick();
  }
  return { element, bottom: bottom.element, called: bottom.called, more: () => more.open(store.table?.tasting.name ?? "Rounds"), less: more.close, update, tick };
}
