// @ts-check
// The page for the wall: large clocks, the round, who has sat down.

import { setText } from "../dom.js";
import { showBowls } from "./bowls.js";
import { followTable } from "./table.js";

const page = /** @type {HTMLElement} */ (document.getElementById("projector"));
const names = /** @type {HTMLTemplateElement} */ (document.getElementById("round-names"));
const rounds = [...names.content.querySelectorAll("[data-round]")].map((span) => ({
  key: /** @type {HTMLElement} */ (span).dataset.round ?? "",
  name: span.textContent ?? "",
}));

followTable(page.dataset.tasting ?? "", {
  link: (live) => setText(/** @type {HTMLElement} */ (document.getElementById("link")), live ? "" : "Connecting again …"),
  change: (bench) => {
    if (bench.state !== page.dataset.state) location.reload();
    const seats = document.getElementById("seats-text");
    if (seats) setText(seats, bench.seats.length === 1 ? "1 seat taken" : `${bench.seats.length || "no"} seats taken`);
    const name = rounds.find(({ key }) => key === bench.round)?.name;
    const round = document.getElementById("round");
    if (round && bench.state === "open") setText(round, name ?? "Soon");
  },
  tick: (bench, clocks, now) => showBowls(page, bench, clocks, now, rounds),
});
