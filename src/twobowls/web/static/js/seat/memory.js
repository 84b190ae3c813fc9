// @ts-check
// Small things that this phone remembers about a seat: whether the practice was seen, which pad
// was open, and half-typed notes. A browser that keeps nothing is fine too.

import { localShelf } from "./journal.js";

/** @returns {Storage | null} */
function tabShelf() {
  try {
    return sessionStorage;
  } catch {
    return null;
  }
}

/** @param {string} seat key @param {Storage | null} [local] */
export function openMemory(seat, local = localShelf()) {
  const tab = tabShelf();
  /** @param {Storage | null} where @param {string} name @returns {any} */
  const get = (where, name) => {
    try {
      return JSON.parse(where?.getItem(`twobowls:${name}:${seat}`) ?? "null");
    } catch {
      return null;
    }
  };
  /** @param {Storage | null} where @param {string} name @param {any} value */
  const set = (where, name, value) => {
    try {
      where?.setItem(`twobowls:${name}:${seat}`, JSON.stringify(value));
    } catch {
      // Full or forbidden: then it is not remembered.
    }
  };
  return {
    /** @returns {Partial<import("./store.js").View>} */
    view: () => ({ ...get(tab, "place"), ...get(local, "habits") }),
    /** @param {import("./store.js").View} view */
    keepView: ({ round, sensation, flight, bowl, mode, welcomed, walk, later, stays }) => {
      set(tab, "place", { round, sensation, flight, bowl, stays });
      set(local, "habits", { mode, welcomed, walk, later });
    },
    /** @returns {Record<string, string>} by bowl */
    drafts: () => get(local, "drafts") ?? {},
    /** @param {Record<string, string>} drafts */
    keepDrafts: (drafts) => set(local, "drafts", drafts),
    forget: () => { for (const name of ["habits", "drafts"]) local?.removeItem(`twobowls:${name}:${seat}`); },
  };
}
