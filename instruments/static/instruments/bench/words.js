// What the tablet's own page says where nothing can be read: why, what it has of which session, and what waits to go out.
import { left, stored, wanted } from "./ahead.js";
import { waiting } from "./queue.js";

const NEEDS = [
  [/^hand-in\//, "Handing in needs the laboratory: it looks through everything that was read."],
  [/^plan\//, "The plan of points is the laboratory's: it is changed when the network is back."],
  [/^photos\//, "Photos are looked at with the laboratory. One that was taken stays on this tablet until it has gone out."],
  [/^(void|adjust)\//, "Voiding a session and adjusting a gauge need the laboratory."],
  [/^./, "This page needs the laboratory."],
];
const KINDS = { reading: "reading", zero: "zero", strike: "a reading struck", answer: "a look answered", condition: "the room" };

const made = (kind, text = "", className = "") => Object.assign(document.createElement(kind), { textContent: text, className });
const link = (address, text) => Object.assign(made("a", text, "button"), { href: address });

const counted = (record) => (record.rejected ? "rejected by a look" : record.parts.length ? `${wanted(record)} still to be read on this tablet` : "everything fetched ahead is read");

const sentence = (here, record) => {
  if (here.session === null) return "The list of what is on the bench is the laboratory's.";
  if (here.page) return NEEDS.find(([page]) => page.test(here.page))[1];
  if (here.step === "hand-in") return NEEDS[0][1];
  if (!record) return `Nothing of session ${here.session} was fetched onto this tablet, so it can't go on without the laboratory.`;
  if (record.rejected) return "A look that is not good ends the job: nothing more is to be read. The rest is done with the laboratory.";
  return record.more ? "What was fetched ahead is read. What comes next is not on this tablet yet."
    : "Everything that was still to be read is read and kept on this tablet. The rest is done with the laboratory.";
};

// What of an entry is a person's own words; anything else is a number of the laboratory's.
const typed = (entry) => {
  const { raw, temperature_c } = JSON.parse(entry.text);
  return raw ?? (temperature_c ? `${temperature_c} °C` : "");
};

const listWaiting = async (names) => {
  const rows = await waiting(), list = document.getElementById("shell-waiting");
  list.replaceChildren(...rows.map((one) => {
    const line = made("li"), at = new Date(one.entered_at).toTimeString().slice(0, 5);
    line.append(made("b", names.get(one.session) ?? `Session ${one.session}`), ` ${KINDS[one.kind] ?? one.kind} `,
      made("span", typed(one), "figure"), made("span", ` at ${at}`, "quiet"));
    return line;
  }));
  document.getElementById("shell-nothing-waits").hidden = rows.length > 0;
};

const listSessions = (tablet, records) => {
  const list = document.getElementById("shell-sessions");
  list.replaceChildren(...records.map((one) => {
    const line = made("li"), way = made("a", "", "bench-line");
    way.href = tablet.dataset.sessions.replace("0", one.session);
    way.append(made("b", one.gauge), made("span", one.model), made("span", counted(one)), made("span", one.stage, "quiet"));
    line.append(way);
    return line;
  }));
  list.hidden = !records.length;
  document.getElementById("shell-no-sessions").hidden = records.length > 0;
};

export const explain = async (tablet, here, record) => {
  const records = await Promise.all((await stored()).map((one) => left(one.session)));
  document.getElementById("shell-sentence").textContent = sentence(here, record);
  const ways = [];
  if (record?.parts.length) ways.push(link(tablet.dataset.sessions.replace("0", here.session), `Go on measuring ${record.gauge}`));
  ways.push(link(window.location.href, "Try again"));
  ways[0].classList.add("button-main");
  document.getElementById("shell-ways").replaceChildren(...ways);
  listSessions(tablet, records);
  await listWaiting(new Map(records.map((one) => [one.session, one.gauge])));
  document.getElementById("shell-words").hidden = false;
};
