// @ts-check
// The bar under the thumb: one pad back, undo, one pad on; and above it, when the host has
// called the next round, the way there.

import { el, setAttribute, setText } from "../../dom.js";
import { keptMarks } from "../records.js";
import { earlierRounds } from "../screens.js";

/**
 * @param {import("../session.js").Session} session
 * @param {import("../undo.js").Undo} undo
 * @param {{toPad: () => void, toWords: () => void, choose: (code: string | null) => void}} go
 */
export function makeBottom(session, undo, go) {
  const { store } = session;
  const called = el("button", { type: "button", class: "first called", hidden: true, onclick: () => { session.look({ round: store.table?.round ?? null }); go.toPad(); } });
  const said = el("p", { class: "hidden-for-eyes", role: "status" });
  const back = el("button", { type: "button", class: "bar-back", onclick: () => step(-1) });
  const undoButton = el("button", { type: "button", class: "bar-undo", text: "Undo", onclick: takeBack });
  const next = el("button", { type: "button", class: "first bar-next", onclick: () => step(1) });
  const still = el("button", { type: "button", class: "first bar-still", text: "Still so", hidden: true, onclick: keep });
  const element = el("div", { class: "bottom" }, called, said, el("div", { class: "bar" }, back, undoButton, still, next));

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
    const steps = undo.takeTogether(store.view.sensation, store.view.round);
    for (const { together: _, ...was } of steps) session.record({ kind: "mark", ...was });
    const last = steps[steps.length - 1];
    if (last) go.choose(last.bowl);
  }

  /** What has not moved since a former round stands as it stood. */
  function keep() {
    store.dispatchEvent(new Event("leave"));
    const marks = rest();
    const together = `${performance.now()}`;
    for (const mark of marks) {
      undo.push({ bowl: mark.bowl, sensation: mark.sensation, round: mark.round, intensity: null, liking: null, together });
      session.record(mark);
    }
    go.choose(null);
  }

  function rest() {
    const { table, sensation, round } = store;
    return table && sensation && round
      ? keptMarks(store.index, store.codes, sensation.key, round.key, earlierRounds(table, round.key, sensation)) : [];
  }

  function update() {
    const { table, view } = store;
    const before = beside(-1);
    const after = beside(1);
    const last = undo.last(view.sensation, view.round);
    const stay = rest();
    still.hidden = stay.length === 0;
    next.classList.toggle("first", still.hidden);
    setText(back, before && still.hidden ? `‹ ${before.name}` : "‹"); // a narrow phone has no room for both
    setAttribute(still, "aria-label", `Still so: ${stay.map(({ bowl }) => bowl).join(", ")} ${stay.length === 1 ? "stands" : "stand"} where ${stay.length === 1 ? "it" : "they"} stood before`);
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
