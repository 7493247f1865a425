// A database of this tablet: opened once, every write on the disk before it counts. Knows nothing of what is kept in it.
export const got = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

// Random names also where the page has no secure address, which lacks randomUUID.
export const named = () => [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");

// Gives what runs work in a transaction; `stores` says by what each store is keyed. Resolves when the transaction is on
// the disk, not when it was only asked for.
export const database = (name, stores) => {
  let opened;
  const open = () => {
    opened ??= new Promise((resolve, reject) => {
      const asked = indexedDB.open(name, 1);
      asked.onupgradeneeded = () => Object.entries(stores).forEach(([store, keyPath]) => asked.result.createObjectStore(store, { keyPath }));
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
    return opened;
  };
  return async (names, mode, work) => {
    const transaction = (await open()).transaction(names, mode, { durability: "strict" });
    const ended = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error);
    });
    const result = await work(transaction);
    await ended;
    return result;
  };
};
