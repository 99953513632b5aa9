// What every page does with scripts: scanning, times in the reader's own zone, focus on what went wrong.

import * as live from "./live.js";
import { moment } from "./moments.js";
import { start } from "./scan.js";
import * as verdict from "./verdict.js";

document.documentElement.classList.add("scripted");

/** Shows times in the reader's own zone, with days as they chose to have them written. */
function showTimes() {
  for (const time of document.querySelectorAll("time[datetime]")) {
    const at = new Date(time.getAttribute("datetime") ?? "");
    if (!Number.isNaN(at.getTime())) time.textContent = moment(at, "minute");
  }
}

/** Tells the server how far the reader's clock is ahead of UTC, in minutes: what it draws has times in it. */
function tellClock() {
  const ahead = -new Date().getTimezoneOffset();
  document.cookie = `dovetally_clock=${ahead}; path=/; max-age=31536000; samesite=lax`;
}

/** A form that was sent is sent once, however often its button is tapped. */
function sendOnce() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || !(form instanceof HTMLFormElement) || form.method !== "post") return;
    if (form.dataset.sent === "true") event.preventDefault();
    form.dataset.sent = "true";
    // Back in history the same form may be sent again: its key then gets the same answer.
    window.addEventListener("pageshow", () => delete form.dataset.sent, { once: true });
  });
}

verdict.start();
/** A link that leads to what is to be printed prints it. */
function print() {
  document.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest("[data-print]") : null;
    if (link === null) return;
    event.preventDefault();
    window.print();
  });
}

start();
live.start();
sendOnce();
print();
showTimes();
tellClock();
document.addEventListener("dovetally:placed", showTimes);
document.getElementById("errors")?.focus();
