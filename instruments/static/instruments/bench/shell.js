// The page that the tablet itself gives while the laboratory doesn't answer, at whatever address of the bench was asked
// for: goes on measuring with what was fetched ahead, says what can't be done, and makes way as soon as it answers.
import { left } from "./ahead.js";
import { show } from "./steps.js";
import { explain } from "./words.js";

const EVERY_MS = 4000, PATIENCE_MS = 6000;
const tablet = document.getElementById("bench-tablet");
const announce = (value) => document.dispatchEvent(new CustomEvent("announce", { detail: { value } }));

// Where the address leads: the session, what of it, the step or point asked for.
const where = () => {
  const [before, after] = tablet.dataset.sessions.split("0");
  const found = new RegExp(`^${before}(\\d{1,9})${after}(.*)$`).exec(window.location.pathname);
  const asked = new URLSearchParams(window.location.search);
  return { session: found ? Number(found[1]) : null, page: found?.[2] ?? "", step: asked.get("step") ?? "", point: asked.get("point") };
};
const ZEROS = { "zero-as-found": "as-found", "zero-set": "set", "closing-zero": "closing" };

// What the address asks for, if it is still to be read; otherwise what comes next.
const first = (parts, { step, point }) => parts.find(({ key }) => key === `reading ${point}`)
  ?? parts.find(({ key }) => key.startsWith("zero ") && key.split(" ")[2] === ZEROS[step]) ?? parts[0];

// The looks and the room come first where they are still open; a point or step that was asked for comes before both.
const stepOf = ({ step, point }, { steps }) => steps.find((one) => (step || point ? one.step === step : one.open.length));

const name = (record) => {
  document.getElementById("shell-name").textContent = record.gauge;
  document.getElementById("shell-stage").textContent = record.stage;
  document.title = `${record.gauge} · bench without the network · labsys`;
  document.body.classList.toggle("hand-left", record.isLeft);
};

const measure = async (here, record) => {
  const form = document.getElementById("reading-form");
  form.action = tablet.dataset.sessions.replace("0", here.session) + tablet.dataset.send;
  form.setAttribute("hx-post", form.action);
  document.body.classList.add("bench-at-work");
  document.getElementById("shell-sheet").hidden = false;
  const part = first(record.parts, here);
  htmx.swap(document.body, part.html, { swapStyle: "none" });
  htmx.process(form);
  // Only now, since they read the page as they begin.
  const { take } = await import("./sending.js");
  take(part.turns);
  await import("./bench.js");
};

// What needs the laboratory says so instead of failing. A label that was scanned is no reading.
const NEEDED = "This needs the laboratory, which doesn't answer. Nothing was changed; do it when the network is back.";
document.addEventListener("htmx:confirm", (event) => {
  if (event.detail.elt.closest("form")?.hasAttribute("data-envelope")) return;
  event.preventDefault();
  const said = document.getElementById("reading-said"), words = document.createElement("p");
  words.className = "saying saying-refused";
  words.textContent = NEEDED;
  said.replaceChildren(words);
  announce(NEEDED);
});
document.addEventListener("label-scanned", (event) => {
  announce("That is a label. It was not taken for a reading; without the laboratory it can't be looked up.");
  document.dispatchEvent(new CustomEvent("reading-stored", { detail: {} }));
  event.target.dispatchEvent(new CustomEvent("kept-here", { detail: { knowsNext: false } }));
});

// As soon as the very page that was asked for is there, it takes the place of this one; what stands in the field comes
// along (bench.js).
const address = () => (window.location.pathname === tablet.dataset.shell ? tablet.dataset.first : window.location.href);
const isThere = (response) => response.type === "opaqueredirect" || response.status < 500;
const look = async () => {
  const found = await fetch(address(), { redirect: "manual", cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) })
    .then(isThere).catch(() => false); // said by what stands on the page; asked again below
  if (!found) {
    window.setTimeout(look, EVERY_MS);
    return;
  }
  const { flush } = await import("./deposit.js");
  await flush();
  document.dispatchEvent(new CustomEvent("leaving"));
  window.location.assign(address());
};

const start = async () => {
  const here = where();
  const record = here.session === null ? null : await left(here.session);
  tablet.dataset.person = record?.person ?? "";
  if (here.session !== null) tablet.dataset.session = here.session;
  if (record) name(record);
  const end = async () => {
    // What was typed ahead of the end stays in the field, where it is said that it isn't stored.
    document.getElementById("shell-sheet").hidden = !document.getElementById("raw").value;
    await explain(tablet, here, await left(here.session));
  };
  document.addEventListener("nothing-ahead", () => window.setTimeout(() => end().catch(fail)));
  const step = here.page === "" && record && stepOf(here, record);
  if (step) await show(step, record);
  else if (here.page === "" && here.step !== "hand-in" && record?.parts.length) await measure(here, record);
  else await explain(tablet, here, record);
  document.dispatchEvent(new CustomEvent("sending"));
  await import("./deposit.js");
  await import("./photos.js");
};

const fail = (reason) => {
  console.info(`The tablet's own database doesn't open: ${reason}`);
  document.getElementById("shell-lost").hidden = false;
};
start().catch(fail);
window.setTimeout(look, EVERY_MS);
