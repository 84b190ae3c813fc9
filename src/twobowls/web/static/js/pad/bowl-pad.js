// @ts-check
// <bowl-pad>: one sensation's square with all bowls of a flight on it. Left to right is how
// strong, bottom to top how much it is liked. State comes in by properties (or JSON attributes
// of the same names) and goes out by events:
//   pad-select {code};
//   pad-place {code, before, after, moved, put} once it rests (after null, null: back in the tray);
//   `moved` is when it moved last, by performance.now(); `put` is whether a finger put it down.
// With the attribute `fits` it keeps to the height of its place, tray and all. With `readonly` it
// only shows, for a debrief; `ellipses` show uncertainty.

import { el, setText } from "../dom.js";
import { Gestures } from "./gestures.js";
import { Settler } from "./settle.js";
import { Stage } from "./stage.js";
import { KEYS, placeWords, readoutOf } from "./wording.js";

/**
 * @typedef {import("./token.js").TokenData} TokenData
 * @typedef {import("./settle.js").Standing} Standing
 */

export class BowlPad extends HTMLElement {
  /** @type {TokenData[]} */
  #tokens = [];
  #sensation = { key: "", name: "", low: "", high: "" };
  /** @type {import("./backdrop.js").Ellipse[]} */
  #ellipses = [];
  /** @type {string | null} */
  #selected = null;
  /** @type {Stage | null} */
  #stage = null;
  /** @type {Gestures | null} */
  #gestures = null;
  #readout = el("p", { class: "pad-readout", role: "status" });
  #putting = false;
  /** The bowl that the taster touched last on this pad. @type {string | null} */
  #touched = null;
  #settler = new Settler((code, before, after, moved) => this.#tell("pad-place", { code, before, after, moved, put: this.#putting }));
  #size = new ResizeObserver(() => this.#draw());

  get readonly() { return this.hasAttribute("readonly"); }
  get selected() { return this.#selected; }
  set selected(code) { this.#selected = code; this.#draw(); }

  get tokens() { return this.#tokens; }
  set tokens(tokens) { this.#tokens = tokens; this.#draw(); }

  get ellipses() { return this.#ellipses; }
  set ellipses(ellipses) { this.#ellipses = ellipses; this.#draw(); }

  get sensation() { return this.#sensation; }
  set sensation(sensation) {
    if (sensation.key !== this.#sensation.key) this.#leave();
    this.#sensation = sensation;
    this.dataset.sensation = sensation.key;
    this.setAttribute("aria-label", `${sensation.name} pad: left to right how strong, bottom to top how much liked`);
    this.#draw();
  }

  connectedCallback() {
    if (!this.#stage) this.#build();
    if (this.#stage) this.#size.observe(this.#stage.room);
    this.#draw();
  }

  disconnectedCallback() {
    this.#size.disconnect();
    this.#gestures?.cancel(); // who lifts a finger from a page without the pad tells the pad nothing
    this.flush();
  }

  #leave() {
    this.flush();
    this.#touched = null;
  }

  /** Settle at once whatever still moves under keys. */
  flush() { this.#settler.flush(); }

  #build() {
    const stage = new Stage(this.readonly, this.hasAttribute("fits"));
    this.#stage = stage;
    this.setAttribute("role", "group");
    this.replaceChildren(stage.room, ...(this.readonly ? [] : [this.#readout]));
    for (const name of ["sensation", "tokens", "ellipses"]) {
      const given = this.getAttribute(name);
      if (given) Object.assign(this, { [name]: JSON.parse(given) });
    }
    if (!this.readonly) this.#listen(stage);
  }

  /** @param {Stage} stage */
  #listen(stage) {
    let told = false;
    this.#gestures = new Gestures(this, {
      stage,
      selected: () => this.#selected,
      standing: (code) => this.#standing(code),
      choose: (code) => this.#choose(code),
      place: (code, after) => this.#put(code, after),
      shift: (code, after) => { this.#shift(code, after); this.#draw(); },
      show: (code, place) => this.#say({ code, ...place }),
      settle: (code) => this.#settler.settle(code),
      redraw: () => this.#draw(),
    });
    this.addEventListener("focusin", ({ target }) => {
      const token = target instanceof Element ? target.closest(".pad-token") : null;
      if (!(token instanceof HTMLElement && token.dataset.code)) return;
      this.#choose(token.dataset.code);
      if (!told && target instanceof Element && target.matches(":focus-visible")) setText(this.#readout, KEYS);
      told = true;
    });
    this.addEventListener("focusout", ({ relatedTarget }) => {
      if (!(relatedTarget instanceof Node && this.contains(relatedTarget))) this.flush();
    });
  }

  /** @param {string} code @returns {Standing} */
  #standing(code) {
    const { intensity = null, liking = null } = this.#settler.at(code) ?? this.#tokens.find((token) => token.code === code) ?? {};
    return { intensity, liking };
  }

  /** @param {string} code @param {Standing} after */
  #shift(code, after) { this.#settler.move(this.#touched = code, this.#standing(code), after); }

  /** @param {string} code @param {Standing} after */
  #put(code, after) {
    this.#shift(code, after);
    this.#putting = true;
    this.#settler.settle(code);
    this.#putting = false;
    this.#draw();
  }

  /** @param {string} code */
  #choose(code) {
    this.#touched = code;
    if (code === this.#selected) return;
    this.selected = code;
    this.#tell("pad-select", { code });
  }

  /** @param {string} type @param {object} detail */
  #tell(type, detail) { this.dispatchEvent(new CustomEvent(type, { detail, bubbles: true })); }

  /** @param {{code: string} & Standing} token */
  #say(token) { setText(this.#readout, placeWords(token.code, this.#sensation.name, token)); }

  #draw() {
    if (!this.#stage || !this.isConnected) return;
    const tokens = this.#tokens.map((token) => ({ ...token, ...this.#settler.at(token.code) }));
    const held = this.#gestures?.held ?? null;
    const stop = this.#selected ?? this.#touched ?? tokens[0]?.code ?? null;
    this.#stage.draw({ tokens, sensation: this.#sensation, ellipses: this.#ellipses, selected: this.#selected, held, stop });
    if (!held) setText(this.#readout, readoutOf(this.#sensation.name, tokens, this.#selected, this.#touched));
  }
}

customElements.define("bowl-pad", BowlPad);
