// Days and times by the reader's own clock, written as the days of the rest of the page are.

/** @param {number} number @param {number} [length] */
const digits = (number, length = 2) => String(number).padStart(length, "0");

/** How each style writes a day: the styles of the settings, which the server writes alike. */
const STYLES = new Map([
  ["year-first", (/** @type {string[]} */ [year, month, day]) => `${year}-${month}-${day}`],
  ["day-first", (/** @type {string[]} */ [year, month, day]) => `${day}.${month}.${year}`],
  ["month-first", (/** @type {string[]} */ [year, month, day]) => `${month}/${day}/${year}`],
]);

/**
 * A moment in words, by a clock of 24 hours.
 * @param {Date} at
 * @param {"minute" | "second"} to how exactly; to the second it is of now, and its day is not told
 */
export function moment(at, to) {
  const clock = `${digits(at.getHours())}:${digits(at.getMinutes())}`;
  if (to === "second") return `${clock}:${digits(at.getSeconds())}`;
  const day = [digits(at.getFullYear(), 4), digits(at.getMonth() + 1), digits(at.getDate())];
  const write = STYLES.get(document.documentElement.dataset.days ?? "") ?? ((/** @type {string[]} */ all) => all.join("-"));
  return `${write(day)} ${clock}`;
}
