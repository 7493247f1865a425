// Opens the bench again without the network: answers in the laboratory's place for pages of the bench and for what they
// are made of, and only when the laboratory doesn't. Whatever is sent, and whatever else is asked for, it leaves alone.
// The laboratory writes what was BUILT before this text: {version, shell, parts: {address: SHA-256}}.
"use strict";

const PATIENCE_MS = 6000; // a network that only swallows is taken for none after this
const CACHE = `bench ${BUILT.version}`;
const shells = new Set(); // pages given from here: what they are made of comes from the same version

const hex = (bytes) => [...new Uint8Array(bytes)].map((one) => one.toString(16).padStart(2, "0")).join("");

// Some network's own page in the place of a part would be kept for weeks: only what has the right hash is.
const fetched = async (address, hash) => {
  const response = await fetch(address, { cache: "reload", credentials: "omit", redirect: "error" });
  const body = await response.clone().arrayBuffer();
  if (!response.ok || hex(await crypto.subtle.digest("SHA-256", body)) !== hash) {
    throw new Error(`${address} is not what this version of the bench is made of`);
  }
  return response;
};

// Looks into a database of the pages without making one: they say by what it is keyed.
const waitsIn = (name, store) => new Promise((resolve, reject) => {
  const asked = indexedDB.open(name);
  asked.onupgradeneeded = () => asked.transaction.abort(); // there is none, so nothing waits in it
  asked.onerror = () => (asked.error.name === "AbortError" ? resolve(false) : reject(asked.error));
  asked.onsuccess = () => {
    const found = asked.result.transaction([store]).objectStore(store).getAll();
    found.onerror = () => reject(found.error);
    found.onsuccess = () => {
      asked.result.close();
      resolve(found.result.some((one) => one.state === "waiting"));
    };
  };
});
const waits = async () => (await waitsIn("bench", "entries")) || waitsIn("bench-photos", "photos");

// What was typed under one version goes out under it. A version that may not follow yet is refused as a whole: the
// browser offers it again with the next page.
const mayFollow = async () => {
  if (self.registration.active && (await waits())) throw new Error("Entries wait on this tablet: not replaced yet");
};
const install = async () => {
  await mayFollow();
  const cache = await caches.open(CACHE);
  try {
    await Promise.all(Object.entries(BUILT.parts).map(async ([address, hash]) => cache.put(address, await fetched(address, hash))));
    await mayFollow();
  } catch (reason) {
    await caches.delete(CACHE);
    throw reason;
  }
  // Pages that are open stay as they are; the next one is this version's. Waiting for all to close would let entries
  // be typed in between.
  await self.skipWaiting();
};
self.addEventListener("install", (event) => event.waitUntil(install()));

const tidy = async () => {
  const old = (await caches.keys()).filter((name) => name.startsWith("bench ") && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
};
self.addEventListener("activate", (event) => event.waitUntil(tidy()));

const held = async (address) => (await caches.open(CACHE)).match(address, { ignoreVary: true });

// Gives the laboratory's answer as it is, whatever it says; nothing where there is none in time.
const asked = (request) => Promise.race([
  fetch(request).catch(() => undefined),
  new Promise((resolve) => { setTimeout(resolve, PATIENCE_MS); }),
]);

// What stands before the laboratory says by these that it doesn't answer.
const GATEWAY = new Set([502, 503, 504]);
const page = async (event) => {
  const answer = await asked(event.request);
  if (answer && !GATEWAY.has(answer.status)) return answer;
  const shell = await held(BUILT.shell);
  if (!shell) return answer ?? Response.error();
  shells.add(event.resultingClientId);
  return shell;
};

const part = async ({ request, clientId }) => {
  const address = new URL(request.url).pathname;
  const answer = shells.has(clientId) ? undefined : await asked(request);
  return answer?.ok ? answer : (await held(address)) ?? answer ?? Response.error();
};

self.addEventListener("fetch", (event) => {
  const { request } = event, { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(event));
  else if (pathname !== BUILT.shell && Object.hasOwn(BUILT.parts, pathname)) event.respondWith(part(event));
});
