// The bench: keys, the cable as a keyboard, and the first judgement in whole picometres. Everything works without it.
// The server's judgement always replaces what is shown here; both compare the same integers.
(() => {
  "use strict";

  const PICOMETRES = { mm: 1000000000n, in: 25400000000n };
  const WORDS = {
    in_tolerance: "in tolerance", not_accepted: "not accepted", not_decided: "not decided",
    out_of_tolerance: "out of tolerance", conditional_inside: "conditional, inside",
    conditional_outside: "conditional, outside",
  };
  const NUMBER = /^([+\-−]?)\s*(\d*)(?:[.,](\d*))?\s*([a-z"″]*)$/i;

  // A typed text as whole picometres, or null where it is no number in this unit yet.
  const picometres = (text, unit) => {
    const found = NUMBER.exec(text.trim());
    if (!found || (!found[2] && !found[3])) return null;
    const suffix = found[4].toLowerCase();
    if (suffix && suffix !== unit && !(unit === "in" && (suffix === '"' || suffix === "″"))) return null;
    const decimals = (found[3] || "").length;
    const digits = BigInt((found[2] || "0") + (found[3] || ""));
    const scaled = digits * PICOMETRES[unit], power = 10n ** BigInt(decimals);
    if (scaled % power !== 0n) return null; // finer than a picometre: the server refuses it with a sentence
    return (found[1] && found[1] !== "+" ? -1n : 1n) * (scaled / power);
  };

  const bound = (text) => (text ? BigInt(text) : null);
  const within = (error, lower, upper) => (lower === null || error >= lower) && (upper === null || error <= upper);

  // One subtraction and a few comparisons; a value on a limit is inside it.
  const judge = (text, data) => {
    const value = picometres(text, data.unit);
    if (value === null) return null;
    const error = value - BigInt(data.reference);
    const zone = (name) => [bound(data[`${name}Lower`]), bound(data[`${name}Upper`])];
    if (within(error, ...zone("accepted"))) return { error, verdict: "in_tolerance" };
    if (!within(error, ...zone("outer"))) return { error, verdict: "out_of_tolerance" };
    if (data.between !== "conditional") return { error, verdict: data.between };
    return { error, verdict: within(error, ...zone("limits")) ? "conditional_inside" : "conditional_outside" };
  };
  window.labsysBench = { picometres, judge };

  document.addEventListener("DOMContentLoaded", () => {
    const form = document.getElementById("reading-form");
    if (!form) return;
    const field = document.getElementById("raw");
    const provisional = document.getElementById("reading-provisional");
    const source = document.getElementById("reading-source");
    const keys = document.getElementById("keys");
    const goal = () => document.getElementById("reading-for").dataset;
    let strokes = [], stored = { raw: "", at: 0 };

    keys.hidden = false;
    field.inputMode = "none"; // the key row serves, so no soft keyboard covers the corridor

    const show = () => {
      const data = goal();
      const judged = data.reference ? judge(field.value, data) : null;
      if (!judged) { provisional.textContent = ""; return; }
      const shown = Number(judged.error) / Number(PICOMETRES[data.unit]);
      const places = Number(data.decimals) + 1;
      const sign = shown < 0 ? "−" : "+";
      provisional.textContent =
        `Provisional: E ${sign}${Math.abs(shown).toFixed(places)} ${data.unit}, ${WORDS[judged.verdict]}.`;
    };
    field.addEventListener("input", show);

    keys.addEventListener("click", (event) => {
      const key = event.target.closest("[data-key]")?.dataset.key;
      if (!key) return;
      if (key === "back") field.value = field.value.slice(0, -1);
      else if (key === "sign") field.value = /^[-−]/.test(field.value) ? field.value.slice(1) : `-${field.value}`;
      else if (key === "unit") field.value = `${field.value.replace(/\s*[a-z"″]+$/i, "")} ${goal().unit || "mm"}`;
      else field.value += key;
      source.value = "typed";
      show();
      field.focus();
    });

    // A cable types faster than fingers; it may end with Tab instead of Enter.
    field.addEventListener("keydown", (event) => {
      const now = performance.now();
      if (event.key.length === 1) strokes = [...strokes.filter((at) => now - at < 1000), now];
      const fast = strokes.length >= 3 && strokes[strokes.length - 1] - strokes[0] < 40 * strokes.length;
      source.value = fast ? "cable" : "typed";
      if (event.key === "Tab" && !event.shiftKey && fast && field.value) {
        event.preventDefault();
        form.requestSubmit();
      }
    });

    // The same value again within a second is key bounce: held back, and said.
    form.addEventListener("submit", (event) => {
      const again = field.value === stored.raw && performance.now() - stored.at < 1000;
      if (again && !event.submitter?.name) {
        event.preventDefault();
        event.stopImmediatePropagation();
        provisional.textContent = "The same value within a second was held back as a bounce of the key.";
        return;
      }
      if (!event.submitter?.name) stored = { raw: field.value, at: performance.now() };
    }, true);

    document.body.addEventListener("reading-stored", (event) => {
      if (field.value === event.detail.raw || !event.detail.raw) field.value = "";
      strokes = [];
      show();
      field.focus();
    });

    if ("wakeLock" in navigator) {
      const keepAwake = () => navigator.wakeLock.request("screen").catch((reason) => console.info(String(reason)));
      document.addEventListener("visibilitychange", () => { if (!document.hidden) keepAwake(); });
      keepAwake();
    }
    show();
    field.focus();
  });
})();
