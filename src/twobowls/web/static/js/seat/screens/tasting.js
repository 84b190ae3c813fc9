// @ts-check
// The screen of a round: bowls, rounds, the open pad and what hangs on it.

import { el } from "../../dom.js";
import { makeBottom } from "../panels/bottom.js";
import { makeBowlWords } from "../panels/bowl-words.js";
import { makeBowls } from "../panels/bowls.js";
import { makePadPanel } from "../panels/pad.js";
import { makePicks } from "../panels/picks.js";
import { makeRounds } from "../panels/rounds.js";
import { makeSensations } from "../panels/sensations.js";
import { tokensOf } from "../records.js";
import { Undo } from "../undo.js";

/**
 * @param {import("../session.js").Session} session
 * @param {(sensation: import("../types.js").Sensation) => void} showGuide
 */
export function makeTasting(session, showGuide) {
  const { store } = session;
  const undo = new Undo();
  const bowls = makeBowls(session);
  const rounds = makeRounds(session);
  const sensations = makeSensations(session);
  const pad = makePadPanel(session, undo, showGuide);
  const picks = makePicks(session);
  const words = makeBowlWords(session);
  const bottom = makeBottom(session, undo, { toPad: () => goTo(pad.element, pad.title), toWords: () => goTo(words.element, words.title), choose: pad.choose });
  const element = el("div", { class: "screen", data: { screen: "tasting" } },
    rounds.element, bowls.element, sensations.element, pad.element, picks.element, words.element);

  /** @param {HTMLElement} part @param {HTMLElement} title */
  function goTo(part, title) {
    title.focus({ preventScroll: true });
    part.scrollIntoView({ block: "start" });
  }

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
  return { element, bottom: bottom.element, update, tick };
}
