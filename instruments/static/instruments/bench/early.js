// A page that is still loading would send its forms past the tablet's own database, and without the network into
// nothing. What is sent that early waits until the page is up; where its scripts don't load, plain forms have to do.
{
  const early = new Map(); // by form, in the order of the first press
  const hold = (event) => {
    if (!event.target.matches("form[data-envelope]")) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    early.set(event.target, event.submitter);
  };
  window.addEventListener("submit", hold, true);

  // htmx takes the forms over when the document has been read, after those who listened before it.
  const isRead = new Promise((resolve) => { document.addEventListener("DOMContentLoaded", () => window.setTimeout(resolve)); });
  const isUp = new Promise((resolve) => {
    document.addEventListener("sending", resolve);
    window.addEventListener("error", ({ target }) => (target === window || target.localName === "script") && resolve(), true);
  });
  Promise.all([isRead, isUp]).then(() => {
    window.removeEventListener("submit", hold, true);
    early.forEach((submitter, form) => form.requestSubmit(submitter));
  });
}
