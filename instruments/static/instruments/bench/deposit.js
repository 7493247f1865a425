// Sends what waits on this tablet to the one address that reads no cookie, and says how much waits. Runs on every page
// of the bench; what another page left behind goes out from whichever is open.
import { forget } from "./ahead.js";
import { device, drop, fact, lastN, mark, refused, remember, sessions, waiting } from "./queue.js";

const EVERY_MS = 4000, AT_ONCE = 50, PATIENCE_MS = 8000;
const RENEW_MS = 7 * 24 * 3600 * 1000; // a key is good for fourteen days and taken anew after seven
const tablet = document.getElementById("bench-tablet");
const person = Number(tablet.dataset.person);

const words = (count) => `${count} ${count === 1 ? "entry waits" : "entries wait"} on this tablet.`;
const say = (id, text) => {
  const place = document.getElementById(id);
  if (place.textContent !== text) place.textContent = text;
  place.hidden = !text;
};

let keyless = false;
export const tell = async () => {
  const left = (await waiting()).length, bad = await refused();
  const why = keyless ? "Sign in on this tablet again, and they go out." : "They go out as soon as the laboratory answers.";
  say("bench-waiting", left ? `${words(left)} ${why}` : "");
  say("bench-refused", bad.length ? `${words(bad.length)} The laboratory can't keep them: ${bad[0].sentence}` : "");
};

const post = (address, body, options) => fetch(address, {
  method: "POST", redirect: "error", cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS),
  headers: { "Content-Type": "application/json", ...options.headers }, body: JSON.stringify(body),
  credentials: options.credentials,
});

// An answer counts only if it is what it should be: 200, JSON, from the address that was asked.
const answered = async (response) => {
  const isJson = response.headers.get("Content-Type")?.startsWith("application/json");
  return response.status === 200 && isJson && !response.redirected ? response.json() : null;
};

const csrf = () => JSON.parse(document.body.getAttribute("hx-headers"));

const grantOf = (who) => fact(`grant ${who}`);
const takeGrant = async () => {
  if (!tablet.dataset.grant) return; // a page that was opened without the laboratory holds nothing that says who asks
  const held = await grantOf(person);
  if (held && Date.parse(held.until) - Date.now() > RENEW_MS) return;
  const found = await post(tablet.dataset.grant, { device: await device() }, { headers: csrf(), credentials: "same-origin" })
    .then(answered);
  if (found) await remember(`grant ${person}`, { key: found.grant, until: found.until });
};

const deposit = async (who, entries, receiptsFor) => {
  const held = await grantOf(who);
  if (!held) return false;
  const envelopes = entries.map(({ id, format, session, n, kind, text, entered_at }) =>
    ({ id, format, session, n, kind, text, entered_at }));
  const body = { grant: held.key, device: await device(), sent_at: new Date().toISOString(), envelopes, receipts_for: receiptsFor };
  const response = await post(tablet.dataset.deposit, body, { credentials: "omit" });
  if (response.status === 403) {
    await remember(`grant ${who}`, null);
    return false;
  }
  const found = await answered(response);
  if (!found) return false;
  const sent = new Set(entries.map((one) => one.id));
  for (const one of found.kept) if (sent.has(one.id)) await mark(one.id, "kept", one.sentence);
  for (const one of found.refused) if (sent.has(one.id)) await mark(one.id, "refused", one.sentence);
  for (const [session, ids] of Object.entries(found.receipts)) {
    await drop(ids);
    await forget(Number(session));
  }
  return true;
};

// One at a time, also among the tabs of this tablet where the browser knows locks; the same entry twice is one reading.
let running = null;
const locked = (work) => (navigator.locks ? navigator.locks.request("bench-deposit", work) : work());

const sendAll = async () => {
  const went = []; // the ids of entries
  keyless = false;
  for (let left = await waiting(); left.length; left = await waiting()) {
    const who = left[0].person;
    const batch = left.filter((one) => one.person === who).slice(0, AT_ONCE);
    if (!(await deposit(who, batch, []))) {
      keyless = !(await grantOf(who));
      return went;
    }
    went.push(...batch.map((one) => one.id));
  }
  return went;
};

export const flush = () => {
  running ??= locked(async () => {
    try {
      await takeGrant();
    } catch (reason) {
      console.info(`No key for depositing now: ${reason}`);
    }
    try {
      return await sendAll();
    } catch (reason) {
      console.info(`Nothing went out: ${reason}`); // the timer tries again
      return [];
    }
  }).finally(() => { running = null; });
  return running.then(async (went) => {
    await tell();
    if (went.length) document.dispatchEvent(new CustomEvent("deposited", { detail: { ids: went } }));
  });
};

// Asked once on every page, and again by the timer while nobody answers.
let isAsked = false;
const askReceipts = async () => {
  const held = await sessions();
  isAsked = !held.length || (await deposit(person, [], held.slice(0, 200)));
};

// Handing in says how much this tablet typed; what still waits goes out first.
const handIn = document.querySelector("form[data-hand-in]");
handIn?.addEventListener("submit", async (event) => {
  if (handIn.dataset.ready) return;
  event.preventDefault();
  await flush();
  const session = Number(tablet.dataset.session);
  handIn.querySelector("[name=device]").value = await device();
  handIn.querySelector("[name=last_n]").value = await lastN(session);
  handIn.dataset.ready = "yes";
  handIn.requestSubmit(event.submitter);
});

const tick = async () => {
  try {
    if ((await waiting()).length) await flush();
    if (!isAsked) await askReceipts();
  } catch (reason) {
    console.info(`Nothing went out: ${reason}`);
  } finally {
    window.setTimeout(tick, EVERY_MS);
  }
};

const start = async () => {
  navigator.storage?.persist?.();
  await flush();
  await askReceipts();
};

start().catch((reason) => console.info(`Nothing went out: ${reason}`));
window.setTimeout(tick, EVERY_MS);
