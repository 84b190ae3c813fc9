// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { makeAwake } from "../../../src/twobowls/web/static/js/seat/awake.js";

const settled = () => new Promise((resolve) => setImmediate(resolve));

/** A browser that lets the test grant, refuse and take back. */
function fakeBrowser() {
  const page = Object.assign(new EventTarget(), { hidden: false });
  /** @type {any[]} */
  const asked = [];
  const browser = { held: 0, slow: /** @type {Promise<void> | null} */ (null) };
  const grant = () => {
    browser.held += 1;
    const lock = Object.assign(new EventTarget(), { release: async () => {
      await browser.slow;
      if (lock.gone) return;
      lock.gone = true;
      browser.held -= 1;
      lock.dispatchEvent(new Event("release"));
    }, gone: false });
    return lock;
  };
  const wakeLock = { request: () => new Promise((resolve, reject) => asked.push({ give: () => resolve(grant()), refuse: () => reject(new Error("hidden")) })) };
  const turn = (/** @type {boolean} */ hidden) => { page.hidden = hidden; page.dispatchEvent(new Event("visibilitychange")); };
  const awake = makeAwake(/** @type {any} */ ({ wakeLock }), /** @type {any} */ (page));
  return { asked, browser, turn, awake };
}

test("a lock that comes when it is not wished any more is given back", async () => {
  const { asked, browser, awake } = fakeBrowser();
  awake(true);
  awake(false);
  asked[0].give();
  await settled();
  assert.equal(browser.held, 0);
});

test("a page that was hidden and shown while the browser was asked asks once more", async () => {
  const { asked, browser, turn, awake } = fakeBrowser();
  awake(true);
  turn(true);
  turn(false);
  asked[0].refuse();
  await settled();
  asked[1].give();
  await settled();
  assert.equal(browser.held, 1);
});

test("a browser that says no is not asked again by itself", async () => {
  const { asked, turn, awake } = fakeBrowser();
  awake(true);
  asked[0].refuse();
  await settled();
  assert.equal(asked.length, 1);
  turn(false);
  assert.equal(asked.length, 2, "when the page is looked at it is");
});

test("one lock is held at a time, and none is left behind, however slowly the browser gives them back", async () => {
  const { asked, browser, turn, awake } = fakeBrowser();
  awake(true);
  asked[0].give();
  await settled();
  let done = () => {};
  browser.slow = new Promise((resolve) => { done = () => resolve(undefined); });
  awake(false);
  turn(false);
  awake(true);
  done();
  browser.slow = null;
  await settled();
  for (const each of asked.slice(1)) each.give();
  await settled();
  assert.equal(browser.held, 1);
  awake(false);
  await settled();
  assert.equal(browser.held, 0);
});
