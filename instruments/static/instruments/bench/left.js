// What was typed ahead of an answer that ended the reading belongs to no point: said once, where the page ends up.
const shelf = `bench ${location.pathname.replace(/[^/]+\/$/, "")} next`;
const shelved = JSON.parse(sessionStorage.getItem(shelf));

if (shelved) {
  const place = document.getElementById("reading-held");
  place.textContent = `${shelved.raw} was typed before the last answer and is not stored: nothing more is to be read here.`;
  place.hidden = false;
  sessionStorage.removeItem(shelf);
}
