// Takes sessions along to where there is no network: loads what is still to be read in them onto this tablet, and says
// of each what it has and what is missing.
import { fetchAhead, stored, wanted } from "./ahead.js";

const tablet = document.getElementById("bench-tablet"), form = document.getElementById("take-form");
const boxes = [...form.elements].filter((one) => one.name === "session");

const NAMES = { looks: "the looks", room: "the room" };
const readings = (count) => `${count} ${count === 1 ? "reading" : "readings"}`;
const words = (record) => {
  if (!record.parts.length) return "Nothing is left to be read.";
  const more = record.more ? " There are more; load it again when these are read." : "";
  const before = record.steps.filter((one) => one.open.length).map((one) => one.step);
  const besides = before.length ? `, with ${before.map((one) => NAMES[one]).join(" and ")}` : "";
  return `${readings(wanted(record))}${besides} on this tablet since ${new Date(record.at).toTimeString().slice(0, 5)}.${more}`;
};
const say = (session, text) => { form.querySelector(`[data-taken="${session}"]`).textContent = text; };

const take = async (box) => {
  const session = Number(box.value);
  say(session, "Loading …");
  const found = await fetchAhead(box.dataset.ahead, session, Number(tablet.dataset.person), true);
  // Read back: what counts is what lies on the tablet.
  const kept = (await stored()).find((one) => one.session === session);
  const isKept = found && (!found.parts.length || kept?.at === found.at);
  say(session, isKept ? words(found) : "Not loaded: the laboratory didn't give it. Try again.");
  return isKept;
};

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const said = document.getElementById("take-said"), chosen = boxes.filter((one) => one.checked);
  said.textContent = "";
  let taken = 0;
  for (const box of chosen) {
    const isTaken = await take(box).catch((reason) => {
      console.info(`Not loaded: ${reason}`);
      say(box.value, "Not loaded: the laboratory didn't answer, or this tablet is full.");
      return false;
    });
    if (isTaken) taken += 1;
  }
  said.textContent = chosen.length ? `${taken} of ${chosen.length} loaded.` : "Choose at least one session.";
});

const start = async () => {
  for (const record of await stored()) if (boxes.some((one) => Number(one.value) === record.session)) say(record.session, words(record));
  document.getElementById("bench-take").hidden = !boxes.length;
};
if ("serviceWorker" in navigator) start().catch((reason) => console.info(`This tablet keeps nothing: ${reason}`));
