// Photos are kept on this tablet first and sent then; one goes only when the laboratory has answered for it by its id.
// They need the sign-in: a photo of somebody else waits until that person is signed in here.
import { database, got, named } from "./database.js";

const EVERY_MS = 6000, PATIENCE_MS = 60000;
const tablet = document.getElementById("bench-tablet");
const person = Number(tablet.dataset.person), isShell = "shell" in tablet.dataset;
const announce = (value) => document.dispatchEvent(new CustomEvent("announce", { detail: { value } }));

const run = database("bench-photos", { photos: "id" });
const keep = (photo) => run(["photos"], "readwrite", (t) => { t.objectStore("photos").put(photo); });
const drop = (id) => run(["photos"], "readwrite", (t) => { t.objectStore("photos").delete(id); });
const all = () => run(["photos"], "readonly", (t) => got(t.objectStore("photos").getAll()));

const say = (id, text, where) => {
  const place = document.getElementById(id);
  const words = where ? place.querySelector(where) : place;
  if (words.textContent !== text) words.textContent = text;
  place.hidden = !text;
};

let held = []; // what is on this tablet, for the moments in which nothing may be waited for
let why = "";
const tell = async () => {
  held = await all();
  const isMine = (one) => isShell || one.person === person; // without the laboratory nobody is signed in
  const mine = held.filter((one) => one.state === "waiting" && isMine(one));
  const others = held.filter((one) => one.state === "waiting" && !isMine(one));
  const bad = held.find((one) => one.state === "refused");
  const parts = [];
  if (mine.length) parts.push(`${mine.length} ${mine.length === 1 ? "photo waits" : "photos wait"} on this tablet. ${why || "They go out as soon as the laboratory answers."}`);
  if (others.length) parts.push(`${others.length} of somebody else ${others.length === 1 ? "waits" : "wait"} until they sign in here.`);
  say("bench-photos", parts.join(" "));
  say("bench-photos-refused", bad ? `A photo was not taken: ${bad.sentence}` : "", "span");
};

document.querySelector("#bench-photos-refused button").addEventListener("click", async () => {
  const bad = held.find((one) => one.state === "refused");
  if (bad) await drop(bad.id);
  await tell();
});

// An answer counts only if it is what it should be, and names the photo.
const send = async (photo) => {
  const body = new FormData();
  body.append("photos", photo.blob, photo.name);
  for (const name of ["look", "run", "note"]) body.append(name, photo[name] ?? "");
  body.append("client_id", photo.id);
  const response = await fetch(tablet.dataset.photos.replace("/0/", `/${photo.session}/`), {
    method: "POST", body, redirect: "error", cache: "no-store", credentials: "same-origin",
    headers: { ...JSON.parse(document.body.getAttribute("hx-headers")), Accept: "application/json" },
    signal: AbortSignal.timeout(PATIENCE_MS),
  });
  const isJson = response.headers.get("Content-Type")?.startsWith("application/json");
  why = response.status === 401 || response.status === 403 ? "Sign in again on this tablet, and they go out." : "";
  const found = response.status === 200 && isJson ? await response.json() : null;
  return found?.id === photo.id ? found : null;
};

const show = (look, kept) => {
  const list = document.querySelector(`[data-photos-of="${look || "whole"}"]`);
  if (!list || list.querySelector(`a[href="${kept.url}"]`)) return;
  const item = document.createElement("li"), link = document.createElement("a"), picture = document.createElement("img");
  link.href = kept.url;
  picture.src = kept.preview;
  picture.alt = `Photo. ${kept.says}`;
  link.append(picture);
  item.append(link);
  list.append(item);
};

const sendAll = async () => {
  for (const photo of (await all()).filter((one) => one.state === "waiting" && one.person === person)) {
    const found = await send(photo);
    if (!found) return;
    if (found.kept.length) {
      await drop(photo.id);
      found.kept.forEach((one) => show(photo.look, one));
      announce("Photo kept with the session.");
    } else await keep({ ...photo, state: "refused", sentence: found.refused.join(" ") });
    await tell();
  }
};

let running = null;
const locked = (work) => (navigator.locks ? navigator.locks.request("bench-photos", work) : work());
const flush = () => {
  if (isShell) return tell(); // photos need the sign-in: the laboratory's own page sends them
  running ??= locked(sendAll)
    .catch((reason) => console.info(`No photo went out: ${reason}`)) // the timer tries again
    .finally(() => { running = null; });
  return running.then(tell);
};

// A photo that was chosen is kept at once; the form itself serves browsers without script or without a database.
const take = async (form) => {
  const field = form.elements.photos;
  const given = new FormData(form);
  for (const file of [...field.files]) {
    await keep({
      id: named(), session: Number(tablet.dataset.session), person, run: given.get("run"), look: given.get("look") ?? "",
      note: given.get("note") ?? "", name: file.name, blob: file, added_at: new Date().toISOString(), state: "waiting",
    });
  }
  field.value = "";
  await tell();
  await flush();
};

document.addEventListener("change", (event) => {
  const form = event.target.closest?.("form[data-photo]");
  if (!form || event.target.type !== "file") return;
  take(form).catch((reason) => {
    console.info(`Not kept on this tablet: ${reason}`);
    form.requestSubmit(); // a tablet without a database of its own sends as any browser does
  });
});

const dress = () => document.querySelectorAll("form[data-photo]").forEach((form) => {
  form.querySelector("button[type=submit]").hidden = true;
  form.querySelector("[data-photo-script]").hidden = false;
});

// The record names its photos, so none may come after it.
document.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-hand-in]");
  const session = Number(tablet.dataset.session);
  if (!form || !held.some((one) => one.state === "waiting" && one.session === session)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  why = "Hand in when they are gone.";
  flush();
  announce("A photo of this session still waits on this tablet. Hand in when it has gone out.");
}, true);

const tick = async () => {
  try {
    if (held.some((one) => one.state === "waiting" && one.person === person)) await flush();
  } finally {
    window.setTimeout(tick, EVERY_MS);
  }
};

dress();
document.addEventListener("htmx:afterSwap", dress);
tell().then(flush).catch((reason) => console.info(`No photos are kept on this tablet: ${reason}`));
window.setTimeout(tick, EVERY_MS);
