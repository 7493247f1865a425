"""What is asked of a page in the browser: what it shows, what the tablet keeps, whether it opens by itself."""

from __future__ import annotations

LOOK = """() => {
  let pressed = null;
  try { pressed = sessionStorage.getItem("pressed"); } catch { /* the browser's own page has none */ }
  const field = document.getElementById("raw"), ready = !!document.querySelector("#keys [data-key]:not([hidden])");
  const point = document.querySelector("#reading-for input[name=point]")?.value;
  const next = document.querySelector("#bench-conditions a.button")?.search.match(/point=(\\d+)/)?.[1];
  return {
    path: location.pathname, ready: !!field && ready, value: field?.value ?? "", point: point ? Number(point) : null,
    next: next ? Number(next) : null, on_its_way: document.getElementById("reading-form")?.ariaBusy === "true",
    has_zero: !!document.querySelector("#reading-for input[name=zero]"),
    said: document.getElementById("reading-said")?.innerText ?? "", pressed,
    is_over: !!document.querySelector("#shell-words:not([hidden])"),
  };
}"""
"""What the page shows and where it is."""
WATCH = """document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target.id !== "raw") return;
  const point = document.querySelector("#reading-for input[name=point]")?.value, { expected } = window;
  const onItsWay = document.getElementById("reading-form")?.ariaBusy === "true";
  window.expected = null;
  if (expected && (point ? Number(point) : null) === expected.point && onItsWay === expected.on_its_way) {
    sessionStorage.setItem("pressed", expected.press);
    return;
  }
  event.preventDefault();
  event.stopImmediatePropagation();
}, true);"""
"""Let Enter through only while the page is the one that was looked at: laid under every page before its own scripts."""
EXPECT = "(expected) => { window.expected = expected; }"
"""Say what was looked at."""
REOPENS = """async (session) => {
  const kept = await caches.keys(), worker = await navigator.serviceWorker.getRegistration();
  if (worker?.active?.state !== "activated" || !kept.some((one) => one.startsWith("bench "))) return false;
  const { stored } = await import("/static/instruments/bench/ahead.js");
  return (await stored()).some((one) => one.session === session);
}"""
"""Whether the tablet could open a session's page without the network."""
KEPT = """() => new Promise((resolve, reject) => {
  const asked = indexedDB.open("bench", 1);
  asked.onupgradeneeded = () => { asked.transaction.abort(); };
  asked.onerror = () => resolve({entries: [], device: ""});
  asked.onsuccess = () => {
    const t = asked.result.transaction(["entries", "facts"]);
    const entries = t.objectStore("entries").getAll(), device = t.objectStore("facts").get("device");
    t.oncomplete = () => {
      asked.result.close();
      resolve({entries: entries.result, device: device.result?.value ?? ""});
    };
    t.onerror = () => reject(t.error);
  };
})"""
"""The entries in the tablet's own database, and its name."""
