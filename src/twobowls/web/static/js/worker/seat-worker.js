// Keeps the seat's page and its files on the phone, where the browser trusts the address: then a
// reload works out of reach too. The server writes KEPT above these lines: the version of the
// static files and their addresses. Answers of the API, debriefs and pictures are never kept.

/* global KEPT */

const PREFIX = "twobowls-seat-";
const NAME = PREFIX + KEPT.version;
const SHELL = /^\/seat\/[^/]+$/;
const FILE = /^\/static\/~/;
const MOST_SHELLS = 6;
/** A laptop that does not answer within this time counts as away, if there is a page to show. */
const PATIENCE_MS = 4000;
const LOOSELY = { ignoreVary: true, ignoreSearch: true };

addEventListener("install", (event) => {
  skipWaiting();
  event.waitUntil(fill());
});

addEventListener("activate", (event) => event.waitUntil(takeOver()));

addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return;
  if (request.mode === "navigate" && SHELL.test(pathname)) event.respondWith(shell(request));
  else if (FILE.test(pathname)) event.respondWith(file(request));
});

/**
 * All files, the pages that are open now, and those that the version before had kept. Should one
 * not come, the version before stays, with all its pages, and a later visit tries again.
 */
async function fill() {
  const cache = await caches.open(NAME);
  await cache.addAll(KEPT.files);
  const open = await clients.matchAll({ type: "window", includeUncontrolled: true });
  const pages = new Set([...open.map(({ url }) => url), ...(await oldShells())].map((url) => new URL(url).pathname).filter((path) => SHELL.test(path)));
  await Promise.all([...pages].map(async (path) => keep(path, await fetch(path, { cache: "no-cache" }))));
}

async function oldShells() {
  const names = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== NAME);
  const kept = await Promise.all(names.map(async (name) => (await caches.open(name)).keys()));
  return kept.flat().map(({ url }) => url);
}

async function takeOver() {
  for (const name of await caches.keys()) if (name.startsWith(PREFIX) && name !== NAME) await caches.delete(name);
  await clients.claim();
}

/** The page from the laptop; the one that was kept when the laptop is away. */
async function shell(request) {
  const { pathname } = new URL(request.url);
  const kept = await (await caches.open(NAME)).match(pathname, LOOSELY);
  try {
    const fresh = await patiently(fetch(request), kept ? PATIENCE_MS : 0);
    if (fresh.status >= 500 && kept) return kept;
    await keep(pathname, fresh.clone()).catch(() => {});
    return fresh;
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}

/** Keep a page whose files are kept too; forget one whose seat there is no more. */
async function keep(pathname, answer) {
  const cache = await caches.open(NAME);
  if (answer.status === 404) return cache.delete(pathname, LOOSELY);
  if (!answer.ok || !(await answer.clone().text()).includes(`/static/~${KEPT.version}/`)) throw new Error("not this version's page");
  await cache.delete(pathname, LOOSELY);
  await cache.put(pathname, answer);
  const shells = (await cache.keys()).filter(({ url }) => SHELL.test(new URL(url).pathname));
  for (const old of shells.slice(0, -MOST_SHELLS)) await cache.delete(old);
}

async function file(request) {
  const kept = await (await caches.open(NAME)).match(request, LOOSELY);
  return kept ?? fetch(request);
}

function patiently(promise, limit) {
  if (!limit) return promise;
  return Promise.race([promise, new Promise((_, reject) => setTimeout(() => reject(new Error("no answer in time")), limit))]);
}
