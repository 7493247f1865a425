// What was typed on this tablet, in its own database: written before the page moves on, kept until the laboratory's
// receipt for the whole session lets it go. Knows nothing of pages and of the network.
import { database, got, named } from "./database.js";

const run = database("bench", { entries: "id", counts: "session", facts: "name" });

export const fact = (name) => run(["facts"], "readonly", async (t) => (await got(t.objectStore("facts").get(name)))?.value);
export const remember = (name, value) => run(["facts"], "readwrite", (t) => { t.objectStore("facts").put({ name, value }); });

export const device = () => run(["facts"], "readwrite", async (t) => {
  const facts = t.objectStore("facts");
  const found = await got(facts.get("device"));
  if (found) return found.value;
  const value = named();
  facts.put({ name: "device", value });
  return value;
});

// Keeps one entry; its count goes up with it in one transaction, whoever else types in another tab.
export const keep = (session, person, kind, fields, id = named()) => run(["entries", "counts"], "readwrite", async (t) => {
  const counts = t.objectStore("counts");
  const n = ((await got(counts.get(session)))?.n ?? 0) + 1;
  const entry = {
    id, format: 1, session, n, kind, text: JSON.stringify(fields), entered_at: new Date().toISOString(),
    person, state: "waiting",
  };
  counts.put({ session, n });
  t.objectStore("entries").add(entry);
  return entry;
});

const all = () => run(["entries"], "readonly", (t) => got(t.objectStore("entries").getAll()));
const typedOrder = (one, other) => one.session - other.session || one.n - other.n;

export const waiting = async () => (await all()).filter((one) => one.state === "waiting").sort(typedOrder);
export const refused = async () => (await all()).filter((one) => one.state === "refused").sort(typedOrder);
export const entriesOf = async (session) => (await all()).filter((one) => one.session === session).sort(typedOrder);
export const sessions = async () => [...new Set((await all()).map((one) => one.session))];
export const lastN = async (session) =>
  (await run(["counts"], "readonly", (t) => got(t.objectStore("counts").get(session))))?.n ?? 0;

export const has = (id) => run(["entries"], "readonly", async (t) => Boolean(await got(t.objectStore("entries").get(id))));

export const mark = (id, state, sentence = "") => run(["entries"], "readwrite", async (t) => {
  const entries = t.objectStore("entries");
  const found = await got(entries.get(id));
  if (found) entries.put({ ...found, state, sentence });
});

// Only what the receipt names goes; an entry that still waits stays, whatever the receipt says.
export const drop = (ids) => run(["entries"], "readwrite", async (t) => {
  const entries = t.objectStore("entries");
  for (const id of ids) {
    const found = await got(entries.get(id));
    if (found?.state === "kept") entries.delete(id);
  }
});
