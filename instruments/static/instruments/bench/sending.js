// Every form of the bench goes through the tablet's own database: kept first, sent then. Where the laboratory doesn't
// answer, the page goes on with what it fetched ahead.
import { fetchAhead, left, turnsOf, wantedStill } from "./ahead.js";
import { isOurs } from "./answers.js";
import { flush, tell } from "./deposit.js";
import { device, keep, mark, waiting } from "./queue.js";

const PATIENCE_MS = 6000; // a network that only swallows is taken for none after this
const SOON_MS = 600; // what waits behind other entries holds the page up for no longer
const tablet = document.getElementById("bench-tablet");
const session = Number(tablet.dataset.session), person = Number(tablet.dataset.person);
const isShell = "shell" in tablet.dataset; // opened without the laboratory: this page is from the tablet itself
const number = (text) => (/^\d{1,18}$/.test(text) ? Number(text) : text);
let name = "";
const announce = (value) => document.dispatchEvent(new CustomEvent("announce", { detail: { value } }));

// What each kind of envelope says; the laboratory's side of it stands in measuring/envelope.py.
const raw = (form) => {
  const text = form.get("raw").trim();
  return text && (form.get("confirmed") ?? "").trim() === text ? { raw: text, confirmed: true } : { raw: text };
};
const FIELDS = {
  reading: (form) => ({ point: number(form.get("point")), source: form.get("source") === "cable" ? "cable" : "typed", ...raw(form) }),
  zero: (form) => ({ run: number(form.get("run")), kind: form.get("zero"), ...raw(form) }),
  strike: (form) => ({ reading: number(form.get("reading")), reason: form.get("reason") ?? "", note: "" }),
  answer: (form) => ({ run: number(form.get("run")), code: form.get("code"), answer: form.get("answer") ?? "", note: (form.get("note") ?? "").trim() }),
  condition: (form) => (form.get("from_log") ? { run: number(form.get("run")), sensor: number(form.get("sensor")), from_log: true } : {
    run: number(form.get("run")), temperature_c: form.get("temperature_c").trim(), humidity_percent: form.get("humidity_percent").trim(),
    ...(form.get("sensor") ? { sensor: number(form.get("sensor")) } : {}),
  }),
};

// The page goes, and what stands in its field is for the one that comes.
const goTo = (address) => {
  document.dispatchEvent(new CustomEvent("leaving"));
  window.location.assign(address);
};

// A label that was scanned into the field is no reading: the laboratory looks it up, and it is not kept.
const isScan = (text) => /(^|\/)[0-9a-f]{32}($|[/?#])/i.test(text ?? "");

// What comes next when the laboratory doesn't answer, by what it asks for.
const ahead = new Map();
const FEW_AHEAD = 20; // with fewer than this left, and more to come, the page asks again
let more = false, isLoaded = false, lastAnswered = null;
const lookAhead = async () => {
  const found = await (isShell ? left(session) : fetchAhead(tablet.dataset.ahead, session, person));
  if (!found) return;
  ahead.clear();
  for (const part of found.parts) ahead.set(part.key, part);
  more = found.more;
  isLoaded = true;
};
const tryAhead = () => lookAhead().catch((reason) => console.info(`Nothing fetched ahead: ${reason}`));

const keyOf = (place) => [...place.querySelectorAll("#reading-for input:not([name=client_id])")].map((one) => one.value).join(" ");

const listKept = (text) => {
  const list = document.querySelector("#bench-entries ol");
  if (!list) return;
  const item = document.createElement("li"), figure = document.createElement("span"), word = document.createElement("span");
  figure.className = "figure";
  figure.textContent = text;
  word.className = "quiet";
  word.textContent = "kept on this tablet";
  item.append(figure, " ", word);
  list.append(item);
};

// What is read now, and what else at the same target, where some of it was typed already.
export const take = (turns) => {
  document.getElementById("reading-for").dataset.turns = JSON.stringify(turns);
  if (turns[0]) document.getElementById("reading-label").textContent = turns[0];
};

// The page goes on without the network: to the next target that nothing typed here waits for. Says whether it knows one.
let without = isShell;
const goOn = (form, entry) => {
  without = true;
  if (form.id !== "reading-form") {
    announce("Kept on this tablet.");
    return false;
  }
  // Not what stands in the field: the next value may be there already.
  const typed = JSON.parse(entry.text).raw, here = keyOf(form), turns = turnsOf(form).slice(1);
  if (turns.length) ahead.set(here, { ...ahead.get(here), turns });
  else ahead.delete(here);
  document.dispatchEvent(new CustomEvent("reading-stored", { detail: { raw: typed } }));
  if (turns.length) {
    take(turns);
    listKept(typed);
    announce(`Kept on this tablet. ${turns.length} more here.`);
    return true;
  }
  const next = [...ahead.values()].find((one) => one.html);
  if (!next) {
    listKept(typed);
    document.dispatchEvent(new CustomEvent("nothing-ahead"));
    announce(isLoaded && !more ? "Kept on this tablet. Nothing more is to be read here."
      : "Kept on this tablet. What comes next is not on it yet: wait for the network.");
    return false;
  }
  htmx.swap(document.body, next.html, { swapStyle: "none" });
  take(next.turns);
  announce(`Kept on this tablet. Now: ${document.getElementById("reading-label").textContent}.`);
  return true;
};

// The form may have been replaced by its own answer; the request remembers which it was.
const ownForm = (event) => (event.detail?.requestConfig?.elt ?? event.detail?.elt ?? event.target)?.closest?.("form[data-envelope]");

// One after the other: an entry looks whether others wait only when the one before has its answer.
let before = Promise.resolve(), marking = Promise.resolve();
// Taken now: by the time the mark is written, the next entry may have put its own in the place of this one.
const answered = (form) => {
  const done = form.answered;
  return marking.then(() => done?.());
};

const keepHere = (form) => {
  const { entry } = form;
  form.entry = null;
  const knowsNext = goOn(form, entry);
  form.dispatchEvent(new CustomEvent("kept-here", { detail: { knowsNext } }));
  answered(form);
};

const send = async (form, entry, issue) => {
  form.entry = entry;
  await tell();
  if (isShell) return keepHere(form); // it goes out by the tablet's own key
  // What was typed before goes first: an order is part of what was observed.
  const isBehind = async () => (await waiting()).some((one) => one.session === session && one.n < entry.n);
  if (!(await isBehind())) return issue();
  // A page that stands still with the value in its field is one at which it is typed once more.
  await Promise.race([flush(), new Promise((resolve) => { window.setTimeout(resolve, SOON_MS); })]);
  return (await waiting()).some((one) => one.id === entry.id) ? keepHere(form) : goTo(window.location.pathname);
};

document.addEventListener("htmx:confirm", (event) => {
  const form = ownForm(event);
  if (!form) return;
  event.preventDefault();
  const given = new FormData(form, event.detail.triggeringEvent?.submitter);
  const issue = () => event.detail.issueRequest(true);
  if (isScan(given.get("raw"))) return isShell ? form.dispatchEvent(new CustomEvent("label-scanned", { bubbles: true })) : issue();
  const kind = given.get("kind"), earlier = before;
  before = new Promise((resolve) => { form.answered = resolve; });
  keep(session, person, kind, FIELDS[kind](given), form.entryId).then(
    (entry) => {
      form.dispatchEvent(new CustomEvent("put-by"));
      return earlier.then(() => send(form, entry, issue));
    },
    (reason) => {
      // A tablet without a database of its own sends as any browser does.
      console.info(`Not kept on this tablet: ${reason}`);
      issue();
    },
  );
});

document.addEventListener("htmx:configRequest", (event) => {
  const entry = ownForm(event)?.entry;
  if (!entry) return;
  const { id, format, n, kind, text, entered_at } = entry;
  event.detail.timeout = PATIENCE_MS;
  event.detail.parameters.envelope = JSON.stringify({
    id, format, session, n, kind, text, entered_at, device: name, sent_at: new Date().toISOString(),
  });
});

document.addEventListener("kept", (event) => { marking = mark(event.detail.id, "kept").then(tell); });

for (const kind of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
  document.addEventListener(kind, (event) => {
    const form = ownForm(event);
    if (!form?.entry) return;
    keepHere(form);
    // Where the laboratory answered and would not take it this way, the tablet's own key may do.
    (kind === "htmx:responseError" ? flush() : tell()).catch((reason) => console.info(`Not now: ${reason}`));
  });
}

// The sign-in is over: what was typed goes out by the tablet's own key first, then the page asks who is there.
document.addEventListener("htmx:beforeOnLoad", (event) => {
  const form = ownForm(event);
  if (!form?.entry || event.detail.xhr.status !== 401) return;
  event.preventDefault();
  form.entry = null;
  flush().finally(() => goTo(window.location.pathname));
});

document.addEventListener("htmx:afterRequest", (event) => {
  const form = ownForm(event);
  if (!form || !event.detail.successful) return;
  if (form.entry && !isOurs(event.detail.xhr)) {
    keepHere(form);
    tell().catch((reason) => console.info(`Not now: ${reason}`));
    return;
  }
  lastAnswered = form.entry?.id;
  form.entry = null;
  answered(form);
  if (more && !isShell && ahead.size < FEW_AHEAD) {
    more = false;
    tryAhead();
  }
});

// The page was made without what waited then. Once that is out, or the network is back, the page shows what the
// laboratory made of it; at any other time it stays, since without the network it couldn't come back.
const unseen = waiting().then((held) => new Set(held.filter((one) => one.session === session).map((one) => one.id)));
document.addEventListener("deposited", async ({ detail }) => {
  const held = await unseen;
  const concerns = without || detail.ids.some((id) => held.has(id));
  if (concerns && !(await waiting()).length) goTo(window.location.pathname);
});

device().then((found) => { name = found; });
tryAhead();

// What the page has left behind is done; what it stays at still wants a reading.
let here = keyOf(document);
document.addEventListener("htmx:afterSettle", () => {
  const now = keyOf(document), stays = now === here && lastAnswered;
  if (stays) wantedStill(session, lastAnswered, now, turnsOf(document)).catch((reason) => console.info(`Not noted on this tablet: ${reason}`));
  if (now !== here && !without) ahead.delete(here);
  here = now;
  lastAnswered = null;
});
if (!isShell) document.dispatchEvent(new CustomEvent("sending")); // that page says it when it is whole (shell.js)
