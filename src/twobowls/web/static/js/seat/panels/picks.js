// @ts-check
// Questions under the pad about bowls that sit close together on it.

import { el, keepList, setAttribute } from "../../dom.js";
import { questionsFor, questionText } from "../picks.js";
import { tokensOf } from "../records.js";

/** @param {import("../session.js").Session} session */
export function makePicks(session) {
  const { store } = session;
  const list = el("div", { class: "picks" });
  const element = el("section", { class: "picks-panel", "aria-labelledby": "picks-title" },
    el("h3", { id: "picks-title", text: "Close together" }),
    el("p", { class: "quiet small", text: "Taste these once more, one right after the other. “The same” is an answer too." }), list);

  /** @param {import("../picks.js").OpenPick} pick @param {string} answer */
  function give({ a, b, question }, answer) {
    const { round, sensation } = store.view;
    if (round && sensation) session.record({ kind: "pick", bowl_a: a, bowl_b: b, sensation, round, question, answer });
  }

  /** @param {import("../picks.js").OpenPick} pick */
  function make(pick) {
    const { a, b, question } = pick;
    const text = store.sensation ? questionText(store.sensation, question, a, b) : "";
    const choice = (/** @type {string} */ answer, /** @type {string} */ label) =>
      el("button", { type: "button", class: answer === "same" ? "choice" : "choice code", text: label, data: { answer }, onclick: () => give(pick, answer) });
    return el("div", { class: "pick", role: "group", "aria-label": text, data: { question, a, b } },
      el("p", { class: "pick-text", text }), el("div", { class: "choices" }, choice(a, a), choice("same", "the same"), choice(b, b)));
  }

  function update() {
    const { table, sensation, round } = store;
    const questions = table && sensation && round
      ? questionsFor(tokensOf(store.index, store.codes, sensation.key, round.key, []), store.index.picks, sensation.key, round.key) : [];
    element.hidden = questions.length === 0;
    keepList(list, questions, ({ a, b, question }) => `${round?.key} ${sensation?.key} ${a} ${b} ${question}`, make, (node, { answer }) => {
      node.classList.toggle("answered", answer !== null);
      for (const button of node.querySelectorAll("button")) setAttribute(button, "aria-pressed", String(button.dataset.answer === answer));
    });
  }
  return { element, update };
}
