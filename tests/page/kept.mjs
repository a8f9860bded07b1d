// Looks into the page's store from outside, past the page's own code.

/** Everything in one of the page's stores; `sampleBytes` counts the samples that lie in an entry. */
export function inStore(page, name) {
  return page.evaluate(
    (store) =>
      new Promise((done, failed) => {
        const open = indexedDB.open('conewright-bench-store');
        open.onerror = () => failed(open.error);
        open.onsuccess = () => {
          const all = open.result.transaction(store).objectStore(store).getAll();
          all.onsuccess = () => (open.result.close(), done(all.result.map((entry) => ({ ...entry, sampleBytes: entry.channels?.reduce?.((sum, c) => sum + c.data.byteLength, 0) }))));
        };
      }),
    name,
  );
}

/** Readings that are not deleted, the newest first. */
export async function keptReadings(page) {
  const all = await inStore(page, 'readings');
  return all.filter((r) => r.deletedAt === undefined).sort((a, b) => b.createdAt - a.createdAt);
}

/** Puts entries into one of the page's stores as if they had been kept there. */
export function put(page, store, entries) {
  return page.evaluate(
    ([name, all]) =>
      new Promise((done, failed) => {
        const open = indexedDB.open('conewright-bench-store');
        open.onerror = () => failed(open.error);
        open.onsuccess = () => {
          const work = open.result.transaction(name, 'readwrite');
          for (const entry of all) work.objectStore(name).put(entry);
          work.oncomplete = () => (open.result.close(), done());
          work.onabort = () => failed(work.error);
        };
      }),
    [store, entries],
  );
}

export const putReadings = (page, readings) => put(page, 'readings', readings);
