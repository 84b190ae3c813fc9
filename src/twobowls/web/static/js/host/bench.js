// @ts-check
// The bench page: keeps what the server has drawn going. Every button works without this.

import { el, keepList, setText } from "../dom.js";
import { showBowls } from "./bowls.js";
import { clockText, roundReadyIn } from "./bowl-clock.js";
import { sendInPlace } from "./send.js";
import { followTable } from "./table.js";

const page = /** @type {HTMLElement} */ (document.getElementById("bench"));
const id = page.dataset.tasting ?? "";
const buttons = /** @type {HTMLButtonElement[]} */ ([...page.querySelectorAll("[data-round]")]);
const heads = /** @type {HTMLElement[]} */ ([...page.querySelectorAll("#seats-table th[data-key]")]);
const rounds = heads.map((head) => ({ key: head.dataset.key ?? "", name: head.textContent ?? "" }));

/** A form that leads to another page is given this long; then a state that has changed shows by itself. */
const LEAVING_MS = 10000;
let leftAt = -Infinity;
page.addEventListener("submit", ({ target }) => {
  if (!("live" in /** @type {HTMLElement} */ (target).dataset)) leftAt = performance.now();
});

/** Other buttons come with another state. To reload would break off a form that is on its way. @param {string} state */
function keepUpWith(state) {
  if (state === page.dataset.state || performance.now() - leftAt < LEAVING_MS) return;
  leftAt = Infinity; // once: a second reload would only begin the first anew
  location.reload();
}

/** @param {string} name */
const node = (name) => /** @type {HTMLElement} */ (document.getElementById(name));

/** Why nothing can be saved now, if so. @param {string} trouble */
function showTrouble(trouble) {
  node("unsaved").hidden = trouble === "";
  setText(node("unsaved"), trouble);
}

/** @param {import("./table.js").Bench} bench */
function showRounds(bench) {
  const after = rounds.findIndex(({ key }) => key === bench.round) + 1;
  for (const button of buttons) {
    button.setAttribute("aria-pressed", String(button.dataset.round === bench.round));
    button.classList.toggle("suggested", button.dataset.round === rounds[after]?.key);
  }
}

/** @param {import("./table.js").Bench} bench @param {import("./table.js").Clocks} clocks @param {number} now */
function showReadiness(bench, clocks, now) {
  for (const button of buttons) {
    const text = button.querySelector("[data-ready]");
    const wait = roundReadyIn(clocks.rounds[button.dataset.round ?? ""], bench.poured, now);
    if (text && wait !== null) setText(text, wait > 0 ? `ready in ${clockText(wait + 0.999)}` : "bowls are ready");
  }
}

/** @param {import("./table.js").Bench["seats"][number]} seat */
function seatLine(seat) {
  return el("tr", {},
    el("td", { class: "number", text: String(seat.number) }),
    el("th", { scope: "row", text: seat.nickname }),
    ...rounds.map(({ name }) => el("td", {}, el("progress", { "aria-label": name, max: 1, value: 0 }), " ", el("span", { class: "small" }))),
    el("td", {}, el("a", { class: "small", href: `/tastings/${id}/seats/${seat.id}`, text: "Other phone" }, el("span", { class: "hidden-for-eyes", text: ` for ${seat.nickname}` }))));
}

/** @param {import("./table.js").Bench} bench */
function showSeats(bench) {
  node("no-seats").hidden = bench.seats.length > 0;
  node("seats-table").hidden = bench.seats.length === 0;
  setText(node("seats-text"), bench.seats.length === 1 ? "1 seat taken" : `${bench.seats.length || "no"} seats taken`);
  keepList(node("seats"), bench.seats, (seat) => seat.id, seatLine, (line, seat) => {
    rounds.forEach(({ key }, index) => {
      const bar = line.querySelectorAll("progress")[index];
      const [marked, most] = [seat.marked[key] ?? 0, bench.expected[key]];
      bar.max = most;
      bar.value = marked;
      setText(/** @type {Element} */ (bar.nextElementSibling), `${marked}/${most}`);
    });
  });
}

/** @param {string[]} readings */
function showReadings(readings) {
  const list = document.getElementById("readings");
  if (list) keepList(list, readings, (text) => text, (text) => el("li", { text }));
}

followTable(id, {
  link: (live) => setText(node("link"), live ? "" : "Connecting again …"),
  change: (bench) => {
    keepUpWith(bench.state);
    showTrouble(bench.trouble);
    showRounds(bench);
    showSeats(bench);
    const unfinished = document.getElementById("unfinished");
    if (unfinished) setText(unfinished, bench.unfinished);
  },
  tick: (bench, clocks, now) => {
    keepUpWith(bench.state);
    showBowls(page, bench, clocks, now, rounds);
    showReadiness(bench, clocks, now);
    showReadings(clocks.readings);
  },
});
sendInPlace(page, node("trouble"));
