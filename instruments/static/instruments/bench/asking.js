// Asks once a day on each tablet whether its cable was tried.
import { fact, remember } from "./queue.js";

const today = new Date().toDateString();
const ask = document.getElementById("cable-ask");

document.getElementById("cable-not").addEventListener("click", async () => {
  ask.hidden = true;
  await remember("cable", today);
});
fact("cable").then((last) => { ask.hidden = last === today; })
  .catch((reason) => console.info(`This tablet keeps nothing: ${reason}`));
