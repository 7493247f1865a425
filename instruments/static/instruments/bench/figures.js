// Readings as whole picometres and the first judgement of them: exact integers, no fractions anywhere. Of an angle the
// integers are billionths of an arc second.
// The server compares the same integers, so what is shown here is never taken back.

export const PICOMETRES = {
  mm: 1000000000n, in: 25400000000n, "µm": 1000000n, "µin": 25400n,
  "°": 3600000000000n, "′": 60000000000n, "″": 1000000000n,
};

const NUMBER = /^([+\-−]?)\s*(\d*)(?:[.,](\d*))?\s*([a-zµμ"″°]*)$/i;
const SUFFIXES = {
  mm: ["mm"], in: ["in", "inch", '"', "″"], "µm": ["um", "µm", "μm"], "µin": ["uin", "µin", "μin"], "°": ["°"],
};
// Degrees, minutes and seconds, with their marks or apart from each other: 45 05, 45°05′, 45°, 5′. A number alone has no
// meaning, nought apart; the server says so with a sentence.
const SPACED = /^([+\-−]?)\s*(\d+)(?:\s*°\s*|\s+)(\d+)\s*['′]?(?:\s+(\d+)\s*["″]?)?$/;
const MARKED = /^([+\-−]?)\s*(?:(\d+)\s*°\s*)?(?:(\d+)\s*['′]\s*)?(?:(\d+)\s*(?:["″]|'')\s*)?$/;

// Gives the parts of an angle typed in degrees and minutes, as a number in its unit; null where it is none (yet).
const angle = (text, unit) => {
  const found = SPACED.exec(text) ?? MARKED.exec(text);
  const given = found?.slice(2).map((part) => (part === undefined ? null : Number(part)));
  if (/^[+\-−]?0$/.test(text)) return { negative: false, whole: "0", decimals: "" };
  if (!given || given.every((part) => part === null)) return null;
  const [degrees, minutes, seconds] = given;
  if ((degrees !== null && minutes >= 60) || (degrees ?? minutes) !== null && seconds >= 60) return null;
  if (unit === "′" && seconds !== null) return null;
  const whole = unit === "′" ? degrees * 60 + minutes : degrees * 3600 + minutes * 60 + seconds;
  return { negative: found[1] === "-" || found[1] === "−", whole: String(whole), decimals: "" };
};

// Gives the parts of a typed number in this unit, or null where it is none (yet).
const parts = (text, unit) => {
  if (unit === "′" || unit === "″") return angle(text.trim(), unit);
  const found = NUMBER.exec(text.trim());
  if (!found || (!found[2] && !found[3])) return null;
  if (found[4] && !SUFFIXES[unit].includes(found[4].toLowerCase())) return null;
  return { negative: found[1] === "-" || found[1] === "−", whole: found[2] || "0", decimals: found[3] || "" };
};

// Counts the decimals that were typed; -1 where the text is no number, or minutes are still to come.
export const decimalsOf = (text, unit) =>
  (unit === "′" && /(°\s*|[°\s]\d)$/.test(text) ? -1 : parts(text, unit)?.decimals.length ?? -1);

// Gives a typed text as whole picometres, or null. What is finer than a picometre the server refuses with a sentence.
export const picometres = (text, unit) => {
  const found = parts(text, unit);
  if (!found) return null;
  const scaled = BigInt(found.whole + found.decimals) * PICOMETRES[unit];
  const power = 10n ** BigInt(found.decimals.length);
  if (scaled % power !== 0n) return null;
  return found.negative ? -(scaled / power) : scaled / power;
};

const bound = (text) => (text ? BigInt(text) : null);

export const zone = (goal, name) => [bound(goal[`${name}Lower`]), bound(goal[`${name}Upper`])];

// A value on a limit is inside it; a missing limit limits nothing.
const within = (error, [lower, upper]) => (lower === null || error >= lower) && (upper === null || error <= upper);

// One subtraction and a few comparisons with what the page carries; null where the text is no number.
export const judge = (text, goal) => {
  const value = picometres(text, goal.unit);
  if (value === null) return null;
  const error = value - BigInt(goal.reference);
  if (within(error, zone(goal, "accepted"))) return { error, verdict: "in_tolerance" };
  if (!within(error, zone(goal, "outer"))) return { error, verdict: "out_of_tolerance" };
  if (goal.between !== "conditional") return { error, verdict: goal.between };
  return { error, verdict: within(error, zone(goal, "limits")) ? "conditional_inside" : "conditional_outside" };
};

// Writes picometres in a unit with so many decimals, half to even, with its sign as the pages write it.
export const written = (picometre, unit, places) => {
  const size = picometre < 0n ? -picometre : picometre;
  const scaled = size * 10n ** BigInt(places);
  let digits = scaled / PICOMETRES[unit];
  const twice = (scaled % PICOMETRES[unit]) * 2n;
  if (twice > PICOMETRES[unit] || (twice === PICOMETRES[unit] && digits % 2n === 1n)) digits += 1n;
  const text = digits.toString().padStart(places + 1, "0");
  const number = places ? `${text.slice(0, -places)}.${text.slice(-places)}` : text;
  return digits === 0n ? number : `${picometre < 0n ? "−" : "+"}${number}`;
};
