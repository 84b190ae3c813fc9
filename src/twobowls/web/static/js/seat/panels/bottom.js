// @ts-check
// The bar under the thumb: one pad back, undo, one pad on; and above it, when the host has
// called the next round, the way there.

import { el, setAttribute, setText } from "../../dom.js";

/**
 * @param {import("../session.js").Session} session
 * @param {import("../undo.js").Undo} undo
 * @param {{toPad: () => void, toWords: () => void, choose: (code: string) => void}} go
 */
export function makeBottom(session, undo, go) {
  const { store } = session;
  const called = el("button", { type: "button", class: "first called", hidden: true, onclick: () => { session.look({ round: store.table?.round ?? null }); go.toPad(); } });
  const said = el("p", { class: "hidden-for-eyes", role: "status" });
  const back = el("button", { type: "button", class: "bar-back", onclick: () => step(-1) });
  const undoButton = el("button", { type: "button", class: "bar-undo", text: "Undo", onclick: takeBack });
  const next = el("button", { type: "button", class: "first bar-next", onclick: () => step(1) });
  const element = el("div", { class: "bottom" }, called, said, el("div", { class: "bar" }, back, undoButton, next));

  /** @param {number} by */
  const beside = (by) => store.sensations[store.sensations.findIndex(({ key }) => key === store.view.sensation) + by];

  /** @param {number} by */
  function step(by) {
    const other = beside(by);
    if (!other) return go.toWords();
    session.look({ sensation: other.key });
    go.toPad();
  }

  function takeBack() {
    store.dispatchEvent(new Event("leave"));
    const was = undo.take(store.view.sensation, store.view.round);
    if (!was) return;
    session.record({ kind: "mark", ...was });
    go.choose(was.bowl);
  }

  function update() {
    const { table, view } = store;
    const before = beside(-1);
    const after = beside(1);
    const last = undo.last(view.sensation, view.round);
    setText(back, before ? `‹ ${before.name}` : "‹");
    setAttribute(back, "disabled", !before);
    setAttribute(back, "aria-label", before ? `Back to ${before.name}` : "This is the first pad");
    setText(next, after ? `${after.name} ›` : "Words ↓");
    setAttribute(next, "aria-label", after ? `On to ${after.name}` : "Down to words and notes");
    setAttribute(undoButton, "disabled", !last);
    setAttribute(undoButton, "aria-label", last ? `Undo the last move of ${last.bowl}` : "Nothing to undo on this pad");
    const current = table?.rounds.find(({ key }) => key === table.round);
    called.hidden = !current || view.round === table?.round;
    setText(called, current ? `Go to the round ${current.name}` : "");
    setText(said, called.hidden ? "" : `The host has called the round ${current?.name}.`);
  }
  return { element, update };
}
