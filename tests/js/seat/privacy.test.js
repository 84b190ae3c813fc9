// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { filesWords } from "../../../src/twobowls/web/static/js/seat/panels/privacy.js";

test("a guest is told whether files may carry names", () => {
  const table = (/** @type {boolean | undefined} */ names_in_files) => /** @type {any} */ ({ tasting: { name: "T", state: "open", names_in_files } });
  assert.match(filesWords(table(true)), /with your name beside them/);
  assert.match(filesWords(table(false)), /the number of your seat and not your name/);
  assert.equal(filesWords(table(undefined)), filesWords(table(false)), "a laptop of before has no names to give");
});
