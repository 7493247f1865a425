// What an answer says of itself.

// One that doesn't say what it kept is not the laboratory's, whatever its number: some network's own page.
export const isOurs = (xhr) => (xhr?.getResponseHeader("HX-Trigger") ?? "").includes('"kept"');

// One that leads to another page: that page shows what was typed ahead, and nothing more is sent from this one.
export const leads = (xhr) => xhr?.status === 401 || Boolean(xhr?.getResponseHeader("HX-Redirect"));
