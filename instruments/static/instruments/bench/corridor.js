// Draws a reading into the corridor before the server has judged it, and says that this is provisional.
import { decimalsOf, judge, written, zone } from "./figures.js";

const SVG = "http://www.w3.org/2000/svg";
const MARK = { size: 0.6, middle: 12, y: 50, left: 10, right: 630 };

const goal = () => document.getElementById("reading-for").dataset;
const region = () => document.getElementById("bench-corridor");

// The server draws the region anew with every answer; what was provisional in it goes with it.
export const clear = () => {
  const shown = region();
  if (!shown?.classList.contains("is-provisional")) return;
  shown.classList.remove("is-provisional");
  shown.querySelector(".corridor-provisional")?.remove();
  shown.querySelector("[data-provisional]").hidden = true;
  const was = shown.was;
  if (!was) return;
  shown.querySelector("[data-error]").textContent = was.error;
  shown.querySelector("[data-unit]").hidden = !was.error;
  shown.querySelector("[data-verdict]").replaceChildren(...was.verdict);
};

// Where an error lies in the picture: on the line through both walls, or nowhere where one of them is missing.
const place = (picture, error, [lower, upper]) => {
  const walls = [...picture.querySelectorAll(".corridor-wall")].map((wall) => Number(wall.getAttribute("x1")));
  if (walls.length !== 2 || lower === null || upper === null || lower === upper) return null;
  const share = Number(error - lower) / Number(upper - lower);
  return Math.min(MARK.right, Math.max(MARK.left, walls[0] + share * (walls[1] - walls[0])));
};

const mark = (verdict) => document.getElementById("bench-marks").content.querySelector(`[data-mark="${verdict}"]`);

const draw = (picture, judged, limits) => {
  picture.querySelector(".corridor-provisional")?.remove();
  const x = place(picture, judged.error, limits);
  if (x === null) return;
  const outward = judged.error < 0n ? -MARK.size : MARK.size;
  const group = document.createElementNS(SVG, "g");
  group.setAttribute("class", `corridor-provisional corridor-mark-${judged.verdict}`);
  group.setAttribute("transform", `translate(${x} ${MARK.y}) scale(${outward} ${MARK.size}) translate(-12 -12)`);
  group.append(mark(judged.verdict).querySelector("path").cloneNode());
  picture.append(group);
};

const show = (text) => {
  const aim = goal(), shown = region(), picture = shown.querySelector("svg");
  const judged = aim.reference && picture ? judge(text, aim) : null;
  if (!judged) return clear();
  const error = shown.querySelector("[data-error]"), verdict = shown.querySelector("[data-verdict]");
  if (!shown.classList.contains("is-provisional")) shown.was = { error: error.textContent, verdict: [...verdict.childNodes] };
  shown.classList.add("is-provisional");
  shown.querySelector("[data-provisional]").hidden = false;
  shown.querySelector("[data-unit]").hidden = false;
  error.textContent = written(judged.error, aim.shown, Number(aim.places));
  verdict.replaceChildren(mark(judged.verdict).firstElementChild.cloneNode(true));
  draw(picture, judged, zone(aim, "limits"));
};

// While a number is still being typed it would jump from wall to wall: it is shown once all its decimals are there.
export const showTyped = (text) => {
  const aim = goal();
  if (aim.reference && decimalsOf(text, aim.unit) >= Number(aim.decimals)) show(text);
  else clear();
};

export const showSent = (text) => (goal().reference ? show(text) : clear());
