// Counts the time in the room down. The page said how much was left when it was made, so no clock is asked what time it is.
const place = document.querySelector("[data-soak-left]");
const began = performance.now();

const show = () => {
  const left = Math.max(0, Number(place.dataset.soakLeft) - Math.floor((performance.now() - began) / 1000));
  const minutes = Math.floor(left / 60), seconds = String(left % 60).padStart(2, "0");
  place.querySelector("[data-soak-figure]").textContent = left ? `${minutes}:${seconds} min` : "The time is up.";
  if (left) return;
  window.clearInterval(ticking);
  place.querySelector("[data-soak-words]").textContent = "";
  document.dispatchEvent(new CustomEvent("announce", { detail: { value: "The time in the room is up." } }));
  const on = document.createElement("a");
  on.className = "button button-main";
  on.href = window.location.pathname;
  on.textContent = "Go on";
  place.append(" ", on);
};

let ticking;
if (place) {
  ticking = window.setInterval(show, 1000);
  show();
}
