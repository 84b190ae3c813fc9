// @ts-check
// Says for a moment that the page has gone on with the table, and offers the way back.

import { el, setText } from "../../dom.js";

const SHOWN_MS = 9000;

/** @param {import("../session.js").Session} session */
export function makeFollowed(session) {
  const { store } = session;
  const words = el("p");
  const back = el("button", { type: "button", onclick: () => { session.look({ round: former }); hide(); } });
  const element = el("div", { class: "followed", role: "status", hidden: true }, words, back);
  /** @type {string | null} */
  let former = null;
  /** @type {any} */
  let timer = null;

  function hide() {
    clearTimeout(timer);
    element.hidden = true;
  }

  /** @param {string | null} key */
  const name = (key) => store.table?.rounds.find((round) => round.key === key)?.name ?? "";

  return {
    element,
    /** @param {string} from the round that was left */
    say(from) {
      former = from;
      setText(words, `The host has called ${name(store.view.round)}. Marks now go there.`);
      setText(back, `Back to ${name(from)}`);
      element.hidden = false;
      clearTimeout(timer);
      timer = setTimeout(hide, SHOWN_MS);
    },
  };
}
