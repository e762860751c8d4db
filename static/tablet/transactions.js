// @ts-check
/**
 * What the tablet's databases have in common. A page that is left in the midst of a transaction may be put to sleep as
 * it is, for going back to it; WebKit then leaves locked whatever the transaction had locked, for the worker and every
 * other page. So a page gives up its transactions when it is put to sleep: none of them was said to be saved.
 */

/** @type {Set<IDBTransaction>} */
const running = new Set();

/** What goes on for a moment after that must not begin another. */
let isAsleep = false;

globalThis.addEventListener?.("pagehide", ({ persisted }) => {
  isAsleep = persisted;
  if (persisted) running.forEach(giveUp);
});
globalThis.addEventListener?.("pageshow", () => { isAsleep = false; });

/** @param {IDBTransaction|undefined} transaction */
export const giveUp = (transaction) => {
  try { transaction?.abort(); } catch { /* it is over already */ }
};

/**
 * @template T
 * @param {IDBTransaction} transaction
 * @param {(at: (store: string) => IDBObjectStore) => Promise<T>} work
 * @returns {Promise<T>}
 */
export async function within(transaction, work) {
  running.add(transaction);
  if (isAsleep) giveUp(transaction);
  try {
    return await work((store) => transaction.objectStore(store));
  } finally {
    running.delete(transaction);
  }
}

/** @param {IDBRequest} request @returns {Promise<any>} */
export const asked = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/** @param {IDBTransaction} transaction @returns {Promise<void>} */
export const complete = (transaction) =>
  new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error ?? new DOMException("given up", "AbortError"));
  });
