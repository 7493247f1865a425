// Lets the browser open the bench again without the network, where it is able to; elsewhere says that it can't.
import { tidy } from "./ahead.js";

const tablet = document.getElementById("bench-tablet");
const live = document.querySelector("[data-live]")?.dataset.live.split(" ").filter(Boolean).map(Number);

const start = async () => {
  await tidy(Number(tablet.dataset.person), live ? new Set(live) : null);
  await navigator.serviceWorker.register(tablet.dataset.worker, { updateViaCache: "none" });
};

const sayNot = () => {
  const said = document.getElementById("bench-not-again");
  if (said) said.hidden = false;
};
if ("serviceWorker" in navigator) {
  start().catch(async (reason) => {
    console.info(`No new worker for opening the bench again: ${reason}`);
    if (!(await navigator.serviceWorker.getRegistration())) sayNot(); // a certificate that nobody vouches for, a private window
  });
} else sayNot();
