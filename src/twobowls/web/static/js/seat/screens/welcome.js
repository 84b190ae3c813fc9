// @ts-check
// The first visit: a pad that teaches itself, then what to take care of, once.

import { el, setText } from "../../dom.js";
import "../../pad/bowl-pad.js";
import { filesWords } from "../panels/privacy.js";
import { cautionList } from "../panels/seat-card.js";
import { nextOf } from "../records.js";
import { beginPractice, hintOf, PRACTICE_SENSATION, practised, practiceTokens } from "../practice.js";

/** @param {import("../session.js").Session} session @param {() => void} done */
export function makeWelcome(session, done) {
  const { store } = session;
  const pad = /** @type {import("../../pad/bowl-pad.js").BowlPad} */ (document.createElement("bowl-pad"));
  pad.setAttribute("fits", "");
  const hint = el("p", { class: "practice-hint", role: "status" });
  const skip = el("button", { type: "button", text: "Skip", onclick: () => turn("cautions") });
  const on = el("button", { type: "button", class: "first", text: "Go on", hidden: true, onclick: () => turn("cautions") });
  const practiceTitle = el("h2", { tabindex: -1, text: "Try the pad first" });
  const practice = el("section", { class: "practice", "aria-label": "Practice" }, practiceTitle, hint, pad, el("div", { class: "bottom" }, el("div", { class: "bar" }, skip, on)));
  const careTitle = el("h2", { tabindex: -1, text: "Before the first sip" });
  const careList = el("div");
  const files = el("p", { class: "quiet small" });
  const care = el("section", { class: "care", "aria-label": "Cautions", hidden: true }, careTitle, careList, files,
    el("div", { class: "bottom" }, el("div", { class: "bar" }, el("button", { type: "button", text: "‹ Practice", onclick: () => turn("practice") }),
      el("button", { type: "button", class: "first", text: "I will take care", onclick: () => done() }))));
  const element = el("div", { class: "screen", data: { screen: "welcome" } }, practice, care);
  let state = beginPractice();

  /** @param {"practice" | "cautions"} part */
  function turn(part) {
    practice.hidden = part !== "practice";
    care.hidden = part === "practice";
    if (part === "practice") again();
    (part === "practice" ? practiceTitle : careTitle).focus({ preventScroll: true });
    scrollTo(0, 0);
  }

  function again() {
    state = beginPractice();
    pad.selected = null;
    show();
  }

  pad.addEventListener("pad-place", (event) => {
    const { code, after } = /** @type {CustomEvent} */ (event).detail;
    state = practised(state, code, after);
    show();
  });

  function show() {
    pad.sensation = PRACTICE_SENSATION;
    pad.tokens = practiceTokens(state);
    if (state.step === 0) pad.selected = nextOf(pad.tokens);
    setText(hint, hintOf(state));
    const enough = state.step >= 2;
    on.hidden = !enough;
    skip.hidden = enough;
  }

  let drawn = "";
  function update() {
    const cautions = store.table?.cautions ?? [];
    const keys = cautions.map(({ key }) => key).join();
    if (keys !== drawn) careList.replaceChildren(cautionList(cautions));
    drawn = keys;
    setText(files, filesWords(store.table));
  }
  show();
  return { element, update, show: turn };
}
