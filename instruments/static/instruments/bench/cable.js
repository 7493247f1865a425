// The trial of a cable: sees how what it sends ends, and how fast it comes. What is said about it is the server's.
import { device, remember } from "./queue.js";

const SILENCE_MS = 1500; // a cable that has sent its last sign and no Enter sends none any more
const STROKE_MS = 40;
const form = document.getElementById("cable-form");
const field = form.elements.sent;

let strokes = [], waiting;
const pace = () => (strokes.length < 2 ? null : (strokes.at(-1) - strokes[0]) / (strokes.length - 1));

const send = (ended) => {
  window.clearTimeout(waiting);
  form.elements.ended.value = ended;
  form.elements.stroke_ms.value = pace() === null ? "" : pace().toFixed(1);
  form.requestSubmit();
};

field.addEventListener("keydown", (event) => {
  window.clearTimeout(waiting);
  if (event.key === "Enter") {
    event.preventDefault();
    send("enter");
  } else if (event.key === "Tab" && !event.shiftKey && pace() !== null && pace() < STROKE_MS) {
    event.preventDefault(); // from fingers Tab moves on as everywhere
    send("tab");
  } else if (event.key.length === 1 && !event.ctrlKey && !event.metaKey) {
    strokes.push(performance.now());
    if (strokes.length >= 3 && pace() < STROKE_MS) waiting = window.setTimeout(() => send("nothing"), SILENCE_MS);
  } else if (event.key === "Backspace") strokes = [];
});

const start = async () => {
  form.elements.device.value = await device();
  if (document.querySelector("[data-tried]")) await remember("cable", new Date().toDateString());
};
start().catch((reason) => console.info(`This tablet keeps nothing: ${reason}`));
field.focus();
