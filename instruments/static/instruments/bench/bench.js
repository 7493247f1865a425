// The one field of the bench: on-screen keys, the cable as a keyboard, what is on its way, what a reload must not lose.
// Everything works without it, by plain forms.
import { isOurs, leads } from "./answers.js";
import { clear, showSent, showTyped } from "./corridor.js";
import { named } from "./database.js";
import { has } from "./queue.js";

const BOUNCE_MS = 1000; // the same value again within a second is a bounce of the key
const STROKE_MS = 40; // a cable is faster than this from stroke to stroke, fingers are not
const form = document.getElementById("reading-form");
const field = document.getElementById("raw");
const keys = document.getElementById("keys");
const source = document.getElementById("reading-source");
const goal = () => document.getElementById("reading-for");

// Said above the field until something is typed or stored: a status, so that readers hear it too.
const held = document.getElementById("reading-held");
const say = (text) => {
  held.textContent = text;
  held.hidden = !text;
};

// What is on its way, what was sent last; whether anything was typed since; which points a value that was typed ahead
// of the answer is meant for; whether the page is about to be replaced.
let onItsWay = null, last = { raw: "", at: -BOUNCE_MS }, isFresh = false, waits = null, leaving = false;

// What stands in the field outlives a reload, until the tablet has kept it: for this very target, or, typed ahead of the
// answer to the value before, for whatever comes next.
const target = () => `bench ${location.pathname} ${[...goal().querySelectorAll("input:not([name=client_id])")]
  .map((one) => one.value).join(" ")}`;
const NEXT = `bench ${location.pathname} next`;
const put = (shelf, id) =>
  (field.value ? sessionStorage.setItem(shelf, JSON.stringify({ raw: field.value, id })) : sessionStorage.removeItem(shelf));
const shelved = (shelf) => JSON.parse(sessionStorage.getItem(shelf));
const keep = (id) => {
  if (leaving || onItsWay) return put(NEXT);
  put(target(), id);
  sessionStorage.removeItem(NEXT);
};

const typed = () => {
  isFresh = true;
  say("");
  keep();
  showTyped(field.value);
};

// One value can wait in the field for the answer to the one before; nothing is typed over it.
const isHeld = () => {
  if (waits) say(`${field.value} waits for the answer to the value before. Nothing more is taken until then.`);
  return Boolean(waits);
};

// Keys write where the cursor is, over what is chosen.
const press = (key) => {
  if (isHeld()) return;
  const start = field.selectionStart, end = field.selectionEnd;
  if (key === "back") field.setRangeText("", start === end ? Math.max(0, start - 1) : start, end, "end");
  else if (key === "sign") field.value = /^\s*[-−]/.test(field.value) ? field.value.replace(/^\s*[-−]/, "") : `-${field.value}`;
  else if (key === "unit") field.value = nextUnit(field.value);
  else field.setRangeText(key, start, end, "end");
  source.value = "typed";
  typed();
};

// The unit key goes through: none, millimetres, inches. A wrong one is refused with a sentence.
const nextUnit = (text) => {
  const number = text.replace(/\s*[a-zµ"″]+$/i, "");
  const fine = goal().dataset.unit;
  if (fine === "°") return /°$/.test(text) ? text.replace(/\s*°$/, "") : `${text}°`;
  if (/^µ/.test(fine ?? "")) return text === number ? `${number} ${fine}` : number;
  return /mm$/.test(text) ? `${number} in` : /in$/.test(text) ? number : `${number} mm`;
};

keys.addEventListener("click", (event) => {
  const key = event.target.closest("[data-key]")?.dataset.key;
  if (!key) return;
  press(key);
  field.focus();
});

// Whether it fits is answered by one tap.
form.addEventListener("click", (event) => {
  const answer = event.target.closest("[data-fit-answer]")?.dataset.fitAnswer;
  if (!answer || isHeld()) return;
  field.value = answer;
  source.value = "typed";
  typed();
  form.requestSubmit();
});
const showAnswers = () => goal().querySelectorAll("[data-fit-answer]").forEach((one) => { one.hidden = false; });
document.addEventListener("htmx:oobAfterSwap", showAnswers);
showAnswers();

// Degrees and minutes have no point, but marks. A page from the laboratory brings their keys; one that was opened again
// without it has the same keys for every gauge.
const MARKS = { unit: ["°", "degrees"], ".": ["′", "minutes"] };
const showMarks = () => goal().dataset.unit === "′" && [...keys.querySelectorAll("[data-key]")].forEach((key) => {
  const [mark, name] = MARKS[key.dataset.key] ?? [];
  if (!mark) return;
  key.dataset.key = key.textContent = mark;
  key.setAttribute("aria-label", name);
  key.classList.remove("key-word");
});
document.addEventListener("htmx:oobAfterSwap", showMarks);
showMarks();

let strokes = [];
const isCable = (now) => strokes.length >= 3 && now - strokes[0] < STROKE_MS * strokes.length;

field.addEventListener("keydown", (event) => {
  const now = performance.now();
  if (event.key.length === 1 && isHeld()) return;
  if (event.key.length === 1) strokes = [...strokes.filter((at) => now - at < BOUNCE_MS), now];
  if (event.key !== "Enter" && event.key !== "Tab") return;
  source.value = isCable(now) ? "cable" : "typed";
  strokes = [];
  if (event.key === "Tab" && !event.shiftKey && source.value === "cable") {
    event.preventDefault(); // some cables end with Tab; from fingers Tab moves on as everywhere
    form.requestSubmit();
  }
});
field.addEventListener("input", typed);

// A number typed or sent while a button has the focus still goes into the field.
document.addEventListener("keydown", (event) => {
  const free = !event.target.closest?.("input, textarea, select, [contenteditable]");
  if (free && !event.ctrlKey && !event.altKey && !event.metaKey && /^[\d.,+\-−°']$/.test(event.key)) field.focus();
});

// The points that a value typed ahead can be meant for: this one once more, or the one the page says comes next.
const pointHere = () => goal().querySelector("input[name=point]")?.value ?? "";
const pointNext = () => document.querySelector("#bench-conditions a.button")?.search.match(/point=(\d+)/)?.[1] ?? "";

form.addEventListener("submit", (event) => {
  const now = performance.now();
  if (onItsWay && !isFresh) {
    say(`${field.value} is on its way.`);
  } else if (field.value === last.raw && now - last.at < BOUNCE_MS) {
    say("The same value within a second was held back as a bounce of the key.");
    sessionStorage.removeItem(NEXT);
    isFresh = false;
    field.select();
  } else if (onItsWay || waits || leaving) {
    // The page still shows the point before: the value waits until the answer says what it belongs to.
    waits = [pointHere(), pointNext()];
    say(`${field.value} waits for the answer to the value before.`);
    field.readOnly = true;
  } else {
    // The entry is named now: a page that is loaded anew in this moment finds by the name whether it was kept.
    form.entryId = named();
    keep(form.entryId);
    last = { raw: field.value, at: now };
    onItsWay = { raw: field.value, at: target() };
    form.ariaBusy = "true";
    isFresh = false;
    say("");
    showSent(field.value);
    field.select(); // the next reading writes over this one
    return;
  }
  event.preventDefault();
  event.stopImmediatePropagation();
}, true);

// A page that asks about the value before, or for its repeat, is no place for the one that waited: that is for a hand.
const isAsking = () => document.querySelector("#reading-said :is(.saying-question, .saying-refused, .saying-out)");

const rest = () => {
  waits = null;
  field.readOnly = false;
  form.ariaBusy = "false";
  say("");
};
const resume = (knowsNext) => {
  if (onItsWay) return;
  const meantFor = waits;
  rest();
  if (!isFresh || !field.value) return sessionStorage.removeItem(NEXT);
  if (!meantFor) return keep(); // it is still being typed
  if (knowsNext && !isAsking() && meantFor.includes(pointHere())) return form.requestSubmit();
  say(`${field.value} is not stored: look at what the page says.`); // and whatever page comes next offers it
};
// The page has its new parts only after this; until then what waits goes on waiting.
const arrived = (knowsNext) => {
  onItsWay = null;
  if (!waits) rest();
  window.setTimeout(() => leaving || resume(knowsNext));
};
const leave = () => {
  leaving = true;
  if (isFresh) keep();
};
form.addEventListener("htmx:afterRequest", ({ target, detail }) => {
  if (target !== form) return;
  if (leads(detail.xhr)) return leave();
  if (!detail.successful) clear();
  // What only the tablet has is let go of once the page has gone on by itself.
  if (!form.entry || isOurs(detail.xhr)) arrived(detail.successful);
});
// Without the network the page may not know what comes next, and stays where it is.
form.addEventListener("kept-here", (event) => arrived(event.detail.knowsNext));
document.addEventListener("leaving", leave);
// What the tablet's own database has is not offered again by a page that is loaded anew: typed once, stored once.
form.addEventListener("put-by", () => onItsWay && sessionStorage.removeItem(onItsWay.at));

document.addEventListener("reading-stored", () => {
  sessionStorage.removeItem(onItsWay?.at ?? target()); // a questioned value that was confirmed is no longer on its way
  if (!isFresh) field.value = "";
  field.focus();
});

// The screen stays awake while readings are taken; where a browser won't, it says so where developers look.
const stayAwake = () => {
  if ("wakeLock" in navigator && !document.hidden) {
    navigator.wakeLock.request("screen").catch((reason) => console.info(`The screen may sleep: ${reason}`));
  }
};

keys.querySelectorAll("[data-key]").forEach((key) => { key.hidden = false; });
field.inputMode = "none"; // the keys serve, so that no soft keyboard covers the corridor
document.addEventListener("visibilitychange", stayAwake);
stayAwake();
// What was typed while the page was loading stays as it is; what the page brought is written over.
isFresh = field.value !== field.defaultValue;
const ahead = shelved(NEXT), mine = shelved(target());
if (ahead && !isFresh) {
  field.value = ahead.raw;
  isFresh = true;
} else if (mine && !field.value) {
  const isKept = mine.id && await has(mine.id).catch((reason) => console.info(`This tablet keeps nothing: ${reason}`));
  if (isKept) sessionStorage.removeItem(target());
  else if (!isFresh) field.value = mine.raw;
}
showTyped(field.value);
field.focus();
if (!isFresh) field.select();
