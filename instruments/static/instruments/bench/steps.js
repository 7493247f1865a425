// The looks and the room on the tablet's own page: shown as they were fetched, marked as they were answered since.
import { left } from "./ahead.js";

const noted = ({ temperature_c, humidity_percent }) => `${temperature_c} °C${humidity_percent ? `, ${humidity_percent} %` : ""}`;

const press = (code, answer) => {
  const form = document.querySelector(`#shell-step input[name=code][value="${CSS.escape(code)}"]`)?.form;
  form?.querySelectorAll(".answers button").forEach((button) => {
    const isIt = button.value === answer;
    button.classList.toggle("is-chosen", isIt);
    button.classList.toggle("is-bad", isIt && answer === "not-good");
    button.setAttribute("aria-pressed", String(isIt));
  });
};

const mark = ({ since }) => {
  const said = since.filter((one) => one.kind === "condition").map((one) => JSON.parse(one.text));
  document.getElementById("shell-noted")?.replaceChildren(...said.map((one) =>
    Object.assign(document.createElement("li"), { textContent: `${noted(one)}, kept on this tablet` })));
  since.filter((one) => one.kind === "answer").map((one) => JSON.parse(one.text)).forEach((one) => press(one.code, one.answer));
};

export const show = async (step, record) => {
  htmx.swap(document.body, step.html, { swapStyle: "none" });
  mark(record);
  const again = () => left(record.session).then(mark).catch((reason) => console.info(`Not marked: ${reason}`));
  document.addEventListener("kept-here", again, true); // sent to the form alone, so it is seen on its way there
  await import("./sending.js");
};
