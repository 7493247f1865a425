// Small helpers on every page. Everything works without them: they announce, they move the focus, they close menus.
(() => {
  "use strict";

  const announce = (text) => {
    const region = document.getElementById("announce");
    if (!region || !text) return;
    region.textContent = "";
    // A reader hears a change, not a value: the text comes a moment after the region was emptied.
    window.setTimeout(() => { region.textContent = text; }, 50);
  };

  // A replaced part may say what it shows now; the server may also send the event "announce" with its text.
  document.addEventListener("htmx:afterSwap", (event) => {
    const part = event.detail.target ?? event.target;
    announce(part.dataset.announce || part.querySelector("[data-announce]")?.dataset.announce);
    part.querySelector("[data-focus]")?.focus();
  });
  document.addEventListener("announce", (event) => announce(event.detail.value));

  // What did not arrive is said in words, where notices stand; nothing fails silently.
  const refuse = (sentence) => {
    const notices = document.getElementById("notices");
    if (!notices) return;
    const notice = document.createElement("div");
    const word = document.createElement("span");
    const text = document.createElement("span");
    notice.className = "notice notice-refused";
    notice.setAttribute("role", "alert");
    word.className = "notice-word";
    word.textContent = "Not done";
    text.textContent = sentence;
    notice.append(word, text);
    notices.replaceChildren(notice);
    notice.scrollIntoView({ block: "nearest" });
  };
  // What a form keeps by itself until it arrives says so itself.
  const keepsItself = (event) => event.target.closest?.("form[data-envelope]")?.entry !== undefined;
  document.addEventListener("htmx:sendError", (event) => keepsItself(event) ||
    refuse("The server could not be reached, so nothing was changed. Check the network and try again."));
  document.addEventListener("htmx:timeout", (event) => keepsItself(event) ||
    refuse("The server did not answer in time. Load the page again to see whether it was done."));
  document.addEventListener("htmx:responseError", (event) => {
    const status = event.detail.xhr.status;
    if (keepsItself(event)) return;
    if (status === 401) return; // The header sends the browser to the sign-in page.
    refuse(status === 403 ? "You may not do this." : status === 404 ? "This is no longer there. Load the page again."
      : `The server failed (${status}), so it is not certain that anything was stored. Load the page again.`);
  });

  // One box ticks all rows; the bulk bar says how many are chosen.
  document.addEventListener("change", (event) => {
    const box = event.target;
    if (!(box instanceof HTMLInputElement) || box.type !== "checkbox") return;
    const form = box.form;
    if (!form?.hasAttribute("data-bulk")) return;
    const rows = [...form.elements].filter((one) => one.name === "selected");
    if (box.hasAttribute("data-select-all")) rows.forEach((one) => { one.checked = box.checked; });
    const chosen = rows.filter((one) => one.checked).length;
    const all = form.querySelector("[data-select-all]");
    if (all) {
      all.checked = chosen === rows.length && chosen > 0;
      all.indeterminate = chosen > 0 && chosen < rows.length;
    }
    form.querySelectorAll("[data-chosen]").forEach((place) => { place.textContent = String(chosen); });
  });

  // Signing out takes along what was stored for who was signed in (databases named "signed-in …"); what was typed stays.
  // It goes only once the server has let the person go: without the network nobody is signed out.
  const empty = (name) => new Promise((resolve, reject) => {
    const asked = indexedDB.open(name);
    asked.onerror = () => reject(asked.error);
    asked.onsuccess = () => {
      const stores = [...asked.result.objectStoreNames];
      if (!stores.length) return resolve();
      const t = asked.result.transaction(stores, "readwrite");
      stores.forEach((store) => t.objectStore(store).clear());
      t.oncomplete = () => resolve(asked.result.close());
      t.onabort = () => reject(t.error);
    };
  });
  const signOut = async (form) => {
    const answer = await fetch(form.action, { method: "POST", body: new FormData(form), redirect: "manual" }).catch(() => null);
    if (!answer) return refuse("The server could not be reached, so you are still signed in. Check the network and try again.");
    if (answer.type !== "opaqueredirect") return form.submit(); // it says itself why not
    document.dispatchEvent(new CustomEvent("signing-out"));
    const held = (await indexedDB.databases()).filter((one) => one.name.startsWith("signed-in "));
    await Promise.all(held.map((one) => empty(one.name)));
    window.location.assign(form.elements.next?.value || "/");
  };
  document.addEventListener("submit", (event) => {
    if (!event.target.matches("form[data-sign-out]") || !window.indexedDB?.databases) return;
    event.preventDefault();
    signOut(event.target).catch((reason) => {
      console.info(`What was stored could not be emptied: ${reason}`);
      window.location.assign("/");
    });
  });

  // The person's menu closes on Escape and on a tap elsewhere, and gives the focus back.
  document.addEventListener("keydown", (event) => {
    const menu = document.querySelector("details.person[open]");
    if (event.key === "Escape" && menu) {
      menu.open = false;
      menu.querySelector("summary").focus();
    }
  });
  document.addEventListener("click", (event) => {
    const menu = document.querySelector("details.person[open]");
    if (menu && !menu.contains(event.target)) menu.open = false;
  });

  document.addEventListener("DOMContentLoaded", () => document.querySelector("[data-focus]")?.focus());
})();
