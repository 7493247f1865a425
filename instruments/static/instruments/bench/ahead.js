// What is still to be read in a session, fetched while the laboratory answers and kept on this tablet for who is signed
// in, so that the bench goes on without the network and can be opened again. What was typed since is left out of it.
import { database, got } from "./database.js";
import { entriesOf } from "./queue.js";

const GOOD_FOR_MS = 14 * 24 * 3600 * 1000; // as long as the tablet's key for depositing
// Signing out empties every database whose name begins like this one's (labsys/site.js).
const run = database("signed-in bench", { sessions: "session" });

const put = (record) => run(["sessions"], "readwrite", (t) => { t.objectStore("sessions").put(record); });
const isFresh = (record) => Date.now() - Date.parse(record.at) < GOOD_FOR_MS;

export const forget = (session) => run(["sessions"], "readwrite", (t) => { t.objectStore("sessions").delete(session); });
export const stored = async () =>
  (await run(["sessions"], "readonly", (t) => got(t.objectStore("sessions").getAll()))).filter(isFresh);

// Lets go of what is somebody else's, what is old, and what is no longer on the bench, where the page says what is.
export const tidy = async (person, live = null) => {
  const all = await run(["sessions"], "readonly", (t) => got(t.objectStore("sessions").getAll()));
  const gone = all.filter((one) => one.person !== person || !isFresh(one) || (live && !live.has(one.session)));
  for (const one of gone) await forget(one.session);
};

let isLeaving = false;
document.addEventListener("signing-out", () => { isLeaving = true; });

// Where the page couldn't be opened again, nothing has to lie here for it.
const keep = (record) => {
  if (isLeaving || !("serviceWorker" in navigator)) return null;
  return record.parts.length ? put(record) : forget(record.session);
};

// The labels of the readings that a target still wants, this one first; a zero is read once.
export const turnsOf = (part) => {
  const found = JSON.parse(part.querySelector("#reading-for")?.dataset.turns || "[]");
  return found.length ? found : [""];
};

// How many readings are still to be typed of what was fetched.
export const wanted = ({ parts }) => parts.reduce((count, one) => count + one.turns.length, 0);

// Asks for the parts of a session and keeps them; null where the laboratory didn't give them.
export const fetchAhead = async (address, session, person, isWhole = false) => {
  // Taken before it is asked: what the laboratory had by then is in its answer.
  const seen = await entriesOf(session).then((held) => held.filter((one) => one.state === "kept").map((one) => one.id)).catch(() => []);
  // What was taken along whole is not cut to a page's few again.
  const whole = isWhole || (await stored().catch(() => [])).some((one) => one.session === session && one.whole);
  const response = await fetch(whole ? `${address}?all` : address, { redirect: "error", headers: { "HX-Request": "true" } });
  const page = response.ok ? new DOMParser().parseFromString(await response.text(), "text/html") : null;
  const about = page?.querySelector("template[data-about]");
  if (!about) return null; // an expired sign-in, or some network's own page
  const record = {
    session, person, seen, whole, at: new Date().toISOString(), ...about.dataset, isLeft: document.body.classList.contains("hand-left"),
    more: page.querySelector("template[data-more]") !== null,
    steps: [...page.querySelectorAll("template[data-step]")]
      .map((one) => ({ step: one.dataset.step, open: one.dataset.open.split(" ").filter(Boolean), html: one.innerHTML })),
    parts: [...page.querySelectorAll("template[data-ahead]")]
      .map((one) => ({ key: one.dataset.ahead, turns: turnsOf(one.content), html: one.innerHTML })),
  };
  await Promise.resolve(keep(record)).catch((reason) => console.info(`Not kept on this tablet: ${reason}`));
  return record;
};

// The laboratory has judged this one, and says what it still wants at the same target.
export const wantedStill = (session, id, key, turns) => run(["sessions"], "readwrite", async (t) => {
  const found = await got(t.objectStore("sessions").get(session));
  if (!found) return;
  const parts = found.parts.map((one) => (one.key === key ? { ...one, turns } : one));
  t.objectStore("sessions").put({ ...found, parts, seen: [...found.seen, id] });
});

// What an entry answers: a target of the one field, a look, the room.
const KEYS = {
  reading: ({ point }) => `reading ${point}`,
  zero: ({ run: number, kind }) => `zero ${number} ${kind}`,
  answer: ({ code }) => code,
  condition: () => "room",
};
const keyOf = ({ kind, text }) => KEYS[kind]?.(JSON.parse(text));

// A look that wasn't good ends the job where the procedure says so; what was answered last counts.
const isRejected = (record, since) => {
  const said = new Map(since.filter((one) => one.kind === "answer").map((one) => JSON.parse(one.text)).map((one) => [one.code, one.answer]));
  return (record.ends ?? "").split(" ").some((code) => said.get(code) === "not-good");
};

// Gives what was kept of a session without what was answered on this tablet since, which it gives too.
export const left = async (session) => {
  const record = (await stored()).find((one) => one.session === session);
  if (!record) return null;
  const since = (await entriesOf(session)).filter((one) => !record.seen.includes(one.id));
  const keys = since.map(keyOf), answered = new Set(keys);
  const rejected = isRejected(record, since), open = rejected ? [] : record.parts;
  const parts = open.map((one) => ({ ...one, turns: one.turns.slice(keys.filter((key) => key === one.key).length) }));
  return {
    ...record, since, rejected, parts: parts.filter((one) => one.turns.length),
    steps: record.steps.map((one) => ({ ...one, open: one.open.filter((code) => !answered.has(code)) })),
  };
};
