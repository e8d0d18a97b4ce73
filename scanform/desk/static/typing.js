// What somebody types, by what the field is: dates from the few digits that differ, units from the register.

const DAY_NAMES = ["Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"];

export const HINTS = {
  date: "the day; or month and day; or all eight digits",
  hours: "such as 4521.3",
  unit: "the whole number, or its end",
  words: "as written",
};

/** What is meant by `typed`: {value, words}, or null while it is no value yet. `near`: an ISO date that days lie near. */
export function meantBy(typed, kind, { near, units }) {
  const text = typed.trim();
  if (!text) return null;
  if (kind === "date") return meantDate(text, near);
  if (kind === "unit") return meantUnit(text, units);
  return { value: text, words: "" };
}

function meantDate(text, near) {
  const digits = text.replace(/[^0-9]/g, "");
  const [year, month] = near.split("-");
  const whole = { 1: `${year}${month}0`, 2: `${year}${month}`, 3: `${year}0`, 4: year, 6: year.slice(0, 2), 8: "" }[digits.length];
  if (whole === undefined) return null;
  const all = whole + digits;
  const iso = `${all.slice(0, 4)}-${all.slice(4, 6)}-${all.slice(6)}`;
  const day = new Date(`${iso}T12:00:00Z`);
  if (Number.isNaN(day.getTime()) || day.toISOString().slice(0, 10) !== iso) return { value: text, words: "no such day" };
  return { value: iso, words: `${iso}, a ${DAY_NAMES[day.getUTCDay()]}` };
}

function meantUnit(text, units) {
  const wanted = text.toUpperCase();
  if (units.includes(wanted)) return { value: wanted, words: wanted };
  const fits = units.filter((unit) => unit.startsWith(wanted) || unit.endsWith(wanted));
  if (fits.length === 1) return { value: fits[0], words: fits[0] };
  return { value: wanted, words: fits.length ? `${wanted}; or one of ${fits.slice(0, 6).join(", ")}` : `${wanted}, not in the register` };
}
