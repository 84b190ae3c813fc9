// @ts-check
// The seat page: opens the session and shows the screen that the tasting calls for.

import { el } from "../dom.js";
import { makeAwake } from "./awake.js";
import { followRounds } from "./following.js";
import { keepPage } from "./offline.js";
import { makeFollowed } from "./panels/followed.js";
import { guideParts } from "./panels/guide.js";
import { makeHeader } from "./panels/header.js";
import { privacyParts } from "./panels/privacy.js";
import { refusedParts } from "./panels/refused.js";
import { cautionList, makeSeatCard, otherPhoneParts } from "./panels/seat-card.js";
import { makeSheet } from "./panels/sheet.js";
import { makeClosed } from "./screens/closed.js";
import { makeTasting } from "./screens/tasting.js";
import { makeWaiting } from "./screens/waiting.js";
import { makeWelcome } from "./screens/welcome.js";
import { screenOf } from "./screens.js";
import { Session } from "./session.js";

const TICK_MS = 1000;

/** @param {HTMLElement} root @param {string} seat key */
async function start(root, seat) {
  const session = await Session.open(seat);
  const { store } = session;
  const sheet = makeSheet("seat");
  const header = makeHeader(session, () => sheet.open("Not accepted", refusedParts(session, sheet.close)), () => tasting.more());
  const welcome = makeWelcome(session, () => { session.look({ welcomed: true }); scrollTo(0, 0); });
  const card = () => makeSeatCard({
    otherPhone: () => open("Another phone", otherPhoneParts(seat, root.dataset.address || location.href)),
    practise: () => { tasting.less(); session.look({ welcomed: false }); welcome.show("practice"); },
    privacy: () => open("Who sees my marks", privacyParts(store.table)),
    cautions: () => open("Cautions", [cautionList(store.table?.cautions ?? [])]),
  });
  const tasting = makeTasting(session, (sensation) => sheet.open(sensation.name, guideParts(sensation)), card());
  const foot = card();
  header.called.append(tasting.called);

  /** One sheet at a time. @param {string} title @param {Node[]} parts */
  function open(title, parts) {
    tasting.less();
    sheet.open(title, parts);
  }

  const words = (/** @type {string} */ title, /** @type {string} */ text) =>
    ({ element: el("div", { class: "screen" }, el("section", { class: "card" }, el("h2", { text: title }), el("p", { text }))), update: () => {} });
  const screens = {
    loading: words("One moment", "The laptop cannot be reached yet. Keep this page open; it goes on trying."),
    unknown: words("This seat is not known", "The laptop does not know this seat any more. Ask the host for the join code. What waits on this phone is kept."),
    welcome, tasting, waiting: makeWaiting(session), closed: makeClosed(session, seat),
  };
  const awake = makeAwake();
  const followed = makeFollowed(session);
  const place = el("div", { class: "seat-screen" });
  let shown = "";

  function update() {
    const { unknown } = store.saved;
    const name = screenOf(store.table, { welcomed: store.view.welcomed, unknown: unknown && !store.table });
    const screen = screens[name];
    if (name !== shown) {
      place.replaceChildren(screen.element);
      if (name === "tasting") root.append(tasting.bottom);
      else tasting.bottom.remove();
      root.dataset.screen = shown = name;
    }
    awake(name === "tasting" || name === "waiting");
    foot.hidden = name !== "waiting";
    header.update();
    screen.update();
  }

  root.replaceChildren(header.element, place, foot, sheet.element, followed.element);
  store.addEventListener("change", update);
  update();
  followRounds(session, (from) => { if (shown === "tasting") followed.say(from); });
  setInterval(() => {
    if (document.hidden) return;
    if (shown === "tasting") tasting.tick();
    if (shown === "waiting") screens.waiting.tick();
  }, TICK_MS);
  keepPage();
}

const root = document.getElementById("seat");
if (root) start(root, root.dataset.key ?? "");
