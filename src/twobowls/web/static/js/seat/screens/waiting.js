// @ts-check
// Nothing to mark yet: the host has not opened the tasting or not called a round.

import { el, setText } from "../../dom.js";
import { makeBowls } from "../panels/bowls.js";

/** @param {import("../session.js").Session} session */
export function makeWaiting(session) {
  const { store } = session;
  const bowls = makeBowls(session);
  const title = el("h2");
  const text = el("p", { role: "status" });
  const element = el("div", { class: "screen", data: { screen: "waiting" } }, el("section", { class: "card waiting" }, title, text), bowls.element);

  function update() {
    const { table } = store;
    if (!table) return;
    const planned = table.tasting.state === "planned";
    const first = table.rounds[0];
    setText(title, planned ? "Not open yet" : "Soon");
    setText(text, planned
      ? "The host has not opened this tasting yet. Leave this page open; it goes on by itself."
      : `The host will call the first round${first ? `, ${first.name}` : ""}. This page goes on by itself.`);
    bowls.update(store.codes[0]);
  }
  return { element, update, tick: update };
}
