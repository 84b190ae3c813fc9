// @ts-check
// Where a phone keeps what it has not been able to send: IndexedDB, or localStorage where that
// fails, or memory alone where both do. All three behave alike; `keeps` says which it is.

/**
 * @typedef {{seat: string, id: string, record: import("./types.js").SeatRecord, error: string | null}} Entry
 *   `error` is the laptop's reason for refusing it
 *
 * @typedef {object} Storage
 * @property {"indexeddb" | "localstorage" | "memory"} keeps
 * @property {(seat?: string) => Promise<Entry[]>} all the entries of this seat, or of another one
 * @property {(entry: Entry) => Promise<void>} put done when it is on disk
 * @property {(ids: string[]) => Promise<void>} remove
 * @property {() => Promise<any>} recall the last table that was seen, or null
 * @property {(table: any) => Promise<void>} remember
 * @property {() => Promise<Array<{seat: string, table: any}>>} others the last tables of other seats on this phone
 * @property {(seat: string) => Promise<void>} forget another seat: its table and its entries
 */

const DATABASE = "twobowls";
const OPEN_WITHIN_MS = 3000;

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
const answer = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

/** @returns {Promise<IDBDatabase>} */
function openDatabase() {
  return new Promise((resolve, reject) => {
    setTimeout(() => reject(new Error("IndexedDB does not answer")), OPEN_WITHIN_MS);
    const request = indexedDB.open(DATABASE, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("outbox", { keyPath: ["seat", "id"] }).createIndex("seat", "seat");
      request.result.createObjectStore("tables", { keyPath: "seat" });
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("IndexedDB is blocked"));
  });
}

/** @param {string} seat @returns {Promise<Storage>} */
async function inDatabase(seat) {
  const database = await openDatabase();
  database.onversionchange = () => database.close();
  /** @param {string} store @param {(store: IDBObjectStore) => void} work @returns {Promise<void>} */
  const write = (store, work) => new Promise((resolve, reject) => {
    const transaction = database.transaction(store, "readwrite", { durability: "strict" });
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
    transaction.onerror = () => reject(transaction.error);
    work(transaction.objectStore(store));
  });
  return {
    keeps: "indexeddb",
    all: async (of = seat) => answer(database.transaction("outbox").objectStore("outbox").index("seat").getAll(of)),
    put: (entry) => write("outbox", (store) => { store.put(entry); }),
    remove: (ids) => write("outbox", (store) => { for (const id of ids) store.delete([seat, id]); }),
    recall: async () => (await answer(database.transaction("tables").objectStore("tables").get(seat)))?.table ?? null,
    remember: (table) => write("tables", (store) => { store.put({ seat, table }); }),
    others: async () => (await answer(database.transaction("tables").objectStore("tables").getAll())).filter((each) => each.seat !== seat),
    forget: async (other) => {
      await write("tables", (store) => { store.delete(other); });
      await write("outbox", (store) => { store.delete(IDBKeyRange.bound([other], [other, []])); });
    },
  };
}

/** @param {string} seat @param {globalThis.Storage} local @returns {Storage} */
export function inLocalStorage(seat, local) {
  const outbox = (/** @type {string} */ of) => `twobowls:outbox:${of}:`;
  const prefix = outbox(seat);
  const tables = "twobowls:table:";
  local.setItem(`${prefix}probe`, "1");
  local.removeItem(`${prefix}probe`);
  const names = (/** @type {string} */ start) => Array.from({ length: local.length }, (_, place) => local.key(place) ?? "").filter((name) => name.startsWith(start));
  const read = (/** @type {string} */ name) => JSON.parse(local.getItem(name) ?? "null");
  return {
    keeps: "localstorage",
    all: async (of = seat) => names(outbox(of)).map(read).filter(Boolean),
    put: async (entry) => local.setItem(prefix + entry.id, JSON.stringify(entry)),
    remove: async (ids) => { for (const id of ids) local.removeItem(prefix + id); },
    recall: async () => read(tables + seat),
    remember: async (table) => local.setItem(tables + seat, JSON.stringify(table)),
    others: async () => names(tables).filter((name) => name !== tables + seat).map((name) => ({ seat: name.slice(tables.length), table: read(name) })),
    forget: async (other) => { for (const name of [tables + other, ...names(outbox(other))]) local.removeItem(name); },
  };
}

/** @returns {Storage} */
export function inMemory() {
  /** @type {Map<string, Entry>} */
  const entries = new Map();
  /** @type {any} */
  let kept = null;
  return {
    keeps: "memory",
    all: async () => [...entries.values()],
    put: async (entry) => { entries.set(entry.id, entry); },
    remove: async (ids) => { for (const id of ids) entries.delete(id); },
    recall: async () => kept,
    remember: async (table) => { kept = table; },
    others: async () => [],
    forget: async () => {},
  };
}

/**
 * The best storage that this browser gives.
 * @param {string} seat key
 * @returns {Promise<Storage>}
 */
export async function openStorage(seat) {
  try {
    return await inDatabase(seat);
  } catch {
    try {
      return inLocalStorage(seat, localStorage);
    } catch {
      return inMemory();
    }
  }
}
