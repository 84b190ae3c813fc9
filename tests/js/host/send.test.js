// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { sendInPlace } from "../../../src/twobowls/web/static/js/host/send.js";

const settled = () => new Promise((resolve) => setImmediate(resolve));

/** A page with one form, and a laptop that answers when told. */
function fakePage() {
  /** @type {Array<(ok: boolean) => void>} */
  const asked = [];
  class Typed extends Array {
    constructor(/** @type {any} */ { value }) { super(); this.push(["temperature", value]); }
  }
  Object.assign(globalThis, {
    FormData: Typed,
    fetch: () => new Promise((resolve) => asked.push((ok) => resolve({ ok, json: async () => ({ error: { message: "No." } }) }))),
  });
  const form = { dataset: { live: "", clear: "" }, action: "/probe", value: "58.5", reset: () => { form.value = ""; }, closest: () => null };
  const page = new EventTarget();
  const trouble = { textContent: "", hidden: true };
  sendInPlace(/** @type {any} */ (page), /** @type {any} */ (trouble));
  const submit = () => {
    const event = new Event("submit", { cancelable: true });
    Object.defineProperty(event, "target", { value: form });
    page.dispatchEvent(event);
  };
  return { asked, form, submit, trouble };
}

test("what was taken is cleared away, and what was refused stays", async () => {
  const { asked, form, submit, trouble } = fakePage();
  submit();
  asked[0](false);
  await settled();
  assert.deepEqual([form.value, trouble.textContent, trouble.hidden], ["58.5", "No.", false]);
  submit();
  asked[1](true);
  await settled();
  assert.deepEqual([form.value, trouble.hidden], ["", true]);
});

test("what is being typed while the last is on its way is not cleared away with it", async () => {
  const { asked, form, submit } = fakePage();
  submit();
  form.value = "5";
  asked[0](true);
  await settled();
  assert.equal(form.value, "5");
});
