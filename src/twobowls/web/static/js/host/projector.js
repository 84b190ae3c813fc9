// @ts-check
// The page for the wall: clocks and counts while the table tastes, its pads once it has closed.
// Every word of the stream replaces what was known, so a page that was cut off only needs the next.

import { setText } from "../dom.js";
import { showBowls } from "./bowls.js";
import { followTable } from "./table.js";
import { showWarmth } from "./wall-bowls.js";
import { headline, progressOf, showsPads } from "./wall-words.js";
import { makeShow } from "./wall-show.js";

const page = /** @type {HTMLElement} */ (document.getElementById("projector"));
const id = page.dataset.tasting ?? "";
const names = /** @type {HTMLTemplateElement} */ (document.getElementById("round-names"));
const rounds = [...names.content.querySelectorAll("[data-round]")].map((span) => ({
  key: /** @type {HTMLElement} */ (span).dataset.round ?? "",
  name: span.textContent ?? "",
  target: "target" in /** @type {HTMLElement} */ (span).dataset ? Number(/** @type {HTMLElement} */ (span).dataset.target) : null,
}));

/** @param {string} name */
const node = (name) => /** @type {HTMLElement} */ (document.getElementById(name));
const show = makeShow(node("pads"), rounds);

/** Phones that were away may bring many marks after the close; they are read together. */
const READ_EVERY_MS = 2500;
/** The news after which the marks on view were asked for. @type {import("./table.js").Bench | null} */
let read = null;
let readAt = -Infinity;

/** All news counts: a mark that has been moved changes no number. @param {import("./table.js").Bench} bench */
async function readMarks(bench) {
  if (bench === read || performance.now() - readAt < READ_EVERY_MS) return;
  const asked = readAt = performance.now();
  try {
    const response = await fetch(`/tastings/${id}/projector.json`, { cache: "no-store" });
    if (!response.ok) throw new Error(String(response.status));
    const marks = await response.json();
    if (asked !== readAt || !showsPads(page.dataset.state ?? "")) return; // asked again, or opened again meanwhile
    show.update(marks);
    read = bench;
  } catch {
    // The laptop is away: the next tick asks again.
  }
}

function forget() {
  show.clear();
  read = null;
  readAt = -Infinity;
}

/** @param {import("./table.js").Bench} bench */
function change(bench) {
  const { state } = bench;
  const pads = showsPads(state);
  page.dataset.state = state;
  setText(node("round"), headline(state, rounds.find(({ key }) => key === bench.round)?.name));
  node("clocks").hidden = pads;
  node("pads").hidden = !pads;
  node("debrief").hidden = !pads;
  const { seats, marks, share } = progressOf(bench);
  setText(node("seats-text"), seats);
  setText(node("progress-text"), marks);
  const bar = /** @type {HTMLProgressElement} */ (node("progress"));
  bar.hidden = share === null;
  bar.value = share ?? 0;
  if (pads) readMarks(bench);
  else if (read) forget();
}

followTable(id, {
  link: (live) => setText(node("link"), live ? "" : "Connecting again …"),
  change,
  tick: (bench, clocks, now) => {
    if (showsPads(bench.state)) readMarks(bench);
    else {
      showBowls(page, bench, clocks, now, rounds);
      showWarmth(node("clocks"), bench, clocks, now, rounds);
    }
  },
});
