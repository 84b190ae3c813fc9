// @ts-check
// One question about two bowls that sit close together on a complete pad. It lies over the head of
// the page, so that the pad stays in sight, and goes with its answer.

import { el, keepList, setAttribute, setText } from "../../dom.js";
import { laterKey, questionFor, questionText } from "../picks.js";
import { tokensOf } from "../records.js";

/** @param {import("../session.js").Session} session */
export function makePicks(session) {
  const { store } = session;
  const list = el("div", { class: "picks" });
  const element = el("section", { class: "picks-panel", "aria-label": "Close together", hidden: true }, list);
  const said = el("p", { class: "hidden-for-eyes", role: "status" });
  const again = el("button", { type: "button", class: "tool", hidden: true, text: "≈", onclick: () => { open = place(); update(); } });
  /** The pad whose question was opened again. */
  let open = "";

  const place = () => laterKey(store.view.round ?? "", store.view.sensation ?? "");

  /** @param {import("../picks.js").OpenPick} pick @param {string} answer */
  function give({ a, b, question }, answer) {
    const { round, sensation, later } = store.view;
    open = "";
    if (answer === "later") session.look({ later: [...new Set([...later, place()])] });
    else if (round && sensation) session.record({ kind: "pick", bowl_a: a, bowl_b: b, sensation, round, question, answer });
  }

  /** @param {import("../picks.js").OpenPick} pick */
  function make(pick) {
    const { a, b, question } = pick;
    const text = store.sensation ? questionText(store.sensation, question, a, b) : "";
    const choice = (/** @type {string} */ answer, /** @type {string} */ label) =>
      el("button", { type: "button", class: answer === label ? "choice code" : "choice", text: label, data: { answer }, onclick: () => give(pick, answer) });
    return el("div", { class: "pick", role: "group", "aria-label": text, data: { question, a, b } },
      el("p", { class: "pick-text", text }), el("div", { class: "choices" }, choice(a, a), choice("same", "the same"), choice(b, b), choice("later", "Later")));
  }

  function update() {
    const { table, sensation, round, view, index, codes } = store;
    const pick = table && sensation && round
      ? questionFor(tokensOf(index, codes, sensation.key, round.key, []), index.picks, sensation.key, round.key, view.later) : null;
    const answered = pick !== null && (pick.answer !== null || view.later.includes(place()));
    const shown = pick && (!answered || open === place()) ? [pick] : [];
    element.hidden = shown.length === 0;
    again.hidden = !answered || shown.length > 0;
    setAttribute(again, "aria-label", pick ? `Ask again about ${pick.a} and ${pick.b}` : "");
    keepList(list, shown, ({ a, b, question }) => `${round?.key} ${sensation?.key} ${a} ${b} ${question}`, make, (node, { answer }) => {
      for (const button of node.querySelectorAll("button")) setAttribute(button, "aria-pressed", button.dataset.answer === "later" ? false : String(button.dataset.answer === answer));
      setText(said, node.getAttribute("aria-label") ?? "");
    });
    if (!shown.length) setText(said, "");
  }
  return { element, said, again, update };
}
