// @ts-check
// The wait before an aftertaste is judged: what is still there after it is the aftertaste.

import { el, setText } from "../../dom.js";

export function makeWait() {
  const words = el("p", { class: "wait-words" });
  const count = el("span", { class: "wait-count code", role: "timer", "aria-live": "off" });
  const said = el("p", { class: "hidden-for-eyes", role: "status" });
  const start = el("button", { type: "button", class: "wait-start", onclick: () => begin() });
  const element = el("div", { class: "wait", hidden: true }, el("div", {}, words, count), start, said);
  let key = "";
  let seconds = 0;
  /** @type {any} */
  let timer = null;
  let ends = 0;

  function begin() {
    clearInterval(timer);
    ends = performance.now() + seconds * 1000;
    timer = setInterval(tick, 250);
    setText(said, `Wait ${seconds} seconds.`);
    tick();
  }

  function tick() {
    const left = Math.ceil((ends - performance.now()) / 1000);
    element.dataset.state = left > 0 ? "waiting" : "over";
    setText(count, left > 0 ? String(left) : "");
    setText(words, left > 0 ? "Breathe out through the nose." : "Now judge what is still there.");
    setText(start, left > 0 ? "Start again" : "Next bowl");
    if (left > 0) return;
    clearInterval(timer);
    setText(said, "Now judge what is still there.");
  }

  function rest() {
    clearInterval(timer);
    element.dataset.state = "ready";
    setText(words, `Sip, then wait ${seconds} seconds before you judge.`);
    setText(count, "");
    setText(start, "Start the wait");
    setText(said, "");
  }

  /** @param {string} now which pad is open @param {number} wait_s */
  function update(now, wait_s) {
    element.hidden = !wait_s;
    if (now === key) return;
    key = now;
    seconds = wait_s;
    rest();
  }
  return { element, update };
}
