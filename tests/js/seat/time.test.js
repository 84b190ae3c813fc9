// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { backoff } from "../../../src/twobowls/web/static/js/seat/backoff.js";
import { HostClock } from "../../../src/twobowls/web/static/js/seat/clock.js";
import { bowlState, bowlWords, minutes, temperatureAt, untilSip, warmth } from "../../../src/twobowls/web/static/js/seat/cooling.js";

/** A phone whose two clocks can be moved apart. */
function phone() {
  const at = { mono: 5000, wall: 1000000 };
  const clock = new HostClock(() => at.mono, () => at.wall);
  const pass = (/** @type {number} */ ms) => { at.mono += ms; at.wall += ms; };
  /** A moment before now. */
  const ago = (/** @type {number} */ ms) => ({ mono: at.mono - ms, wall: at.wall - ms });
  return { at, clock, pass, ago };
}

test("the host's time is taken at the middle of the way there and back", () => {
  const { clock, pass, ago } = phone();
  clock.sync(9000000, ago(100));
  assert.equal(clock.now(), 9000050);
  pass(1234);
  assert.equal(clock.now(), 9001284);
});

test("a jump of the phone's clock, either way, does no harm", () => {
  const { at, clock, pass } = phone();
  clock.sync(9000000, clock.moment());
  at.wall += 3600000;
  pass(10);
  assert.equal(clock.now(), 9000010);
  at.wall -= 7200000;
  pass(10);
  assert.equal(clock.now(), 9000020);
});

test("a phone that slept with its monotonic clock stopped is set right when it is seen again", () => {
  const { at, clock } = phone();
  clock.sync(9000000, clock.moment());
  clock.hidden();
  at.wall += 600000;
  clock.shown();
  assert.equal(clock.now(), 9600000);
  clock.sync(9600500, clock.moment());
  assert.equal(clock.now(), 9600500, "what the laptop says then counts");
});

test("an answer that lay on the phone while it slept does not set its clock, whichever is heard first", () => {
  for (const shownFirst of [true, false]) {
    const { at, clock, pass } = phone();
    clock.sync(9000000, clock.moment());
    const asked = clock.moment();
    clock.hidden();
    at.wall += 600000;
    pass(20);
    if (shownFirst) clock.shown();
    clock.sync(9000005, asked);
    if (!shownFirst) clock.shown();
    assert.equal(clock.now(), 9600020);
  }
});

test("a phone that wakes in the pocket and hears the time is not set on again when it is seen", () => {
  const { at, clock, pass } = phone();
  clock.sync(9000000, clock.moment());
  clock.hidden();
  at.wall += 600000;
  clock.sync(9600000, clock.moment());
  pass(5000);
  clock.shown();
  assert.equal(clock.now(), 9605000);
});

test("a very slow answer does not replace a good one", () => {
  const { clock, ago } = phone();
  clock.sync(9000000, ago(20));
  clock.sync(1, ago(5000));
  assert.equal(clock.now(), 9000010);
});

test("instants of records only ever grow, even when the time is set back", () => {
  const { clock } = phone();
  clock.sync(9000000, clock.moment());
  const first = clock.stamp();
  clock.sync(8000000, clock.moment());
  assert.equal(clock.stamp(), first + 1);
  clock.passed(9500000);
  assert.equal(clock.stamp(), 9500001);
});

test("without a word from the laptop a remembered difference serves", () => {
  const { clock, pass } = phone();
  clock.guess(500);
  pass(100);
  assert.equal(clock.now(), 1000600);
  clock.sync(7, clock.moment());
  assert.equal(clock.now(), 7);
});

/** @type {Array<[number, number]>} */
const curve = [[0, 90], [240, 75], [600, 60], [1200, 45]];
const bowlClock = { break_s: 240, skim_s: 300, first_sip_s: 600, first_sip_c: 60, rounds: {} };

test("temperature follows the curve by straight lines and stops at its ends", () => {
  assert.equal(temperatureAt(curve, -5), 90);
  assert.equal(temperatureAt(curve, 120), 82.5);
  assert.equal(temperatureAt(curve, 900), 52.5);
  assert.equal(temperatureAt(curve, 9999), 45);
  assert.equal(temperatureAt([], 10), null);
});

test("a bowl goes from empty to steeping to hot to safe", () => {
  const words = (/** @type {number | null} */ poured, /** @type {number} */ now) => bowlWords(bowlState(poured, now, bowlClock, curve));
  assert.equal(words(null, 0), "not poured yet");
  assert.equal(words(0, 120000), "crust in 2:00");
  assert.equal(words(0, 470000), "sip in 2:10");
  assert.equal(words(0, 600000), "60 °C: small sips");
  assert.equal(words(0, 900000), "53 °C: small sips");
  assert.equal(words(5000, 0), "crust in 4:00", "a pour a moment ahead of this clock");
});

test("a bowl that never gets safe says so rather than nothing", () => {
  assert.equal(bowlWords(bowlState(0, 900000, { ...bowlClock, first_sip_s: null }, curve)), "too hot to sip");
});

test("the time until a safe sip is told from the pour on, and is gone when it is safe", () => {
  assert.equal(untilSip(0, 100000, bowlClock), "8:20");
  assert.equal(untilSip(0, 470000, bowlClock), "2:10");
  assert.equal(untilSip(0, 600000, bowlClock), "");
  assert.equal(untilSip(null, 600000, bowlClock), "");
});

test("minutes and seconds round up and never go below nothing", () => {
  assert.equal(minutes(129.2), "2:10");
  assert.equal(minutes(60), "1:00");
  assert.equal(minutes(-3), "0:00");
});

test("warmth sinks from just poured to room", () => {
  assert.equal(warmth(95), 1);
  assert.equal(warmth(25), 0);
  assert.equal(warmth(null), 0);
  assert.ok(warmth(60) > warmth(45));
});

test("waits double up to half a minute and differ from phone to phone", () => {
  assert.deepEqual([1, 2, 3, 4, 5, 6, 50].map((failures) => backoff(failures, 0.5)), [1000, 2000, 4000, 8000, 16000, 30000, 30000]);
  assert.equal(backoff(1, 0), 750);
  assert.equal(backoff(1, 1), 1250);
});
