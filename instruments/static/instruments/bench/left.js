// What was typed ahead of an answer that ended the reading belongs to no point: said once, where the page ends up.
const shelf = `bench ${location.pathname.replace(/[^/]+\/$/, "")} next`;
const raw = sessionStorage.getItem(shelf);

if (raw) {
  const place = document.getElementById("reading-held");
  place.textContent = `${raw} was typed before the last answer and is not stored: nothing more is to be read here.`;
  place.hidden = false;
  sessionStorage.removeItem(shelf);
}
