// @ts-check
// The bar under the thumb: one stop of the walk back, undo, one on; and, when the host has called
// the next round, the way there.

import { el, setAttribute, setText } from "../../dom.js";
import { keptMarks } from "../records.js";
import { earlierRounds } from "../screens.js";
import { beside } from "../walk.js";

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
  const element = el("div", { class: "bottom" }, said, el("div", { class: "bar" }, back, undoButton, still, next));

  /** @param {1 | -1} by */
  const stop = (by) => beside(store.walk, store.sensations.map(({ key }) => key), store.codes, store.view, by);

  /** @param {1 | -1} by */
  function step(by) {
    const other = stop(by);
    if (!other) return go.toWords();
    session.look(store.walk === "bowls" ? other : { sensation: other.sensation });
    go.toPad();
  }

  /** A stop by its name: the pad's, or the next bowl's where that is what changes. @param {import("../walk.js").Stop | null} other */
  function nameOf(other) {
    if (!other) return null;
    const { bowl, sensation } = other;
    const name = store.sensations.find(({ key }) => key === sensation)?.name ?? "";
    const walked = store.codes.includes(store.view.bowl ?? "") ? store.view.bowl : store.codes[0];
    return bowl !== null && bowl !== walked ? `bowl ${bowl}` : name;
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
    const before = nameOf(stop(-1));
    const after = nameOf(stop(1));
    const last = undo.last(view.sensation, view.round);
    const stay = rest();
    still.hidden = stay.length === 0;
    next.classList.toggle("first", still.hidden);
    setText(back, before && still.hidden ? `‹ ${before}` : "‹"); // a narrow phone has no room for both
    setAttribute(still, "aria-label", `Still so: ${stay.map(({ bowl }) => bowl).join(", ")} ${stay.length === 1 ? "stands" : "stand"} where ${stay.length === 1 ? "it" : "they"} stood before`);
    setAttribute(back, "disabled", !before);
    setAttribute(back, "aria-label", before ? `Back to ${before}` : "This is the first pad");
    setText(next, after ? `${after[0].toUpperCase()}${after.slice(1)} ›` : "Words ›");
    setAttribute(next, "aria-label", after ? `On to ${after}` : "On to words and notes");
    setAttribute(undoButton, "disabled", !last);
    setAttribute(undoButton, "aria-label", last ? `Undo the last move of ${last.bowl}` : "Nothing to undo on this pad");
    const current = table?.rounds.find(({ key }) => key === table.round);
    called.hidden = !current || view.round === table?.round;
    setText(called, current ? `Go to the round ${current.name}` : "");
    setText(said, called.hidden ? "" : `The host has called the round ${current?.name}.`);
  }
  return { element, called, update };
}
