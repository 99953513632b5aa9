// A part of a page that follows the records while the page is open: a stream tells that something has changed, and the part
// is asked for anew. What is old never passes for new: without a sign of life the page says since when it is not live.

import { moment } from "./moments.js";

/** So long without a sign of life, in milliseconds, and the stream counts as broken. */
const SILENT = 12000;
/** What is shown rests on the time too: it is asked for anew after so long. */
const ANEW = 45000;
/** So long an answer is waited for. */
const ANSWER_WAITS = 8000;
/** Not more often than this is anything asked for. */
const PAUSE = 400;
/** A stream that the server refused is tried again after so long. */
const TRY_AGAIN = 4000;

/** @type {EventSource | null} */ let source = null;
let asking = false;
let askAgain = false;
let signedOut = false;
/** The change up to which the part is shown. */ let shown = -1;
/** When the part was last known to be as the records are. */ let freshAt = Date.now();
let heardAt = Date.now();
let askedAt = Date.now();
/** @type {number | undefined} */ let later;

/** Starts following, on a page that has such a part. */
export function start() {
  const line = document.getElementById("live");
  if (line === null) return;
  shown = Number(part(line)?.dataset.at ?? -1);
  open(line);
  setInterval(() => {
    const now = Date.now();
    if (source !== null && now - heardAt > SILENT) broken(line);
    else if (source?.readyState === EventSource.OPEN && now - askedAt > ANEW) ask(line);
  }, 1000);
  // Nobody looks at a hidden page, and a browser has few connections.
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") {
      close();
    } else {
      broken(line);
      open(line);
    }
  });
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) {
      broken(line);
      open(line);
    }
  });
}

/** @param {HTMLElement} line */
function part(line) {
  return document.getElementById(line.dataset.part ?? "");
}

function close() {
  clearTimeout(later);
  source?.close();
  source = null;
}

/** @param {HTMLElement} line */
function open(line) {
  close();
  heardAt = Date.now();
  const stream = new EventSource(line.dataset.stream ?? "");
  source = stream;
  stream.addEventListener("changes", (event) => {
    heardAt = Date.now();
    if (Number(event.data) !== shown) {
      ask(line);
    } else {
      freshAt = heardAt;
      good(line);
    }
  });
  stream.addEventListener("error", () => {
    if (source !== stream) return;
    broken(line);
    // By itself a browser comes again only to what once was a stream.
    if (stream.readyState !== EventSource.CLOSED) return;
    later = setTimeout(() => open(line), TRY_AGAIN);
    // Who is not signed in any more learns it by asking.
    ask(line);
  });
}

/**
 * Asks for the part anew; what comes while it is asked for is asked for after that.
 * @param {HTMLElement} line
 */
async function ask(line) {
  if (asking) {
    askAgain = true;
    return;
  }
  asking = true;
  askedAt = Date.now();
  const given = new AbortController();
  const timer = setTimeout(() => given.abort(), ANSWER_WAITS);
  try {
    // Not as a person asks: what a page asks for by itself keeps nobody signed in.
    const answer = await fetch(location.href, {
      headers: { Accept: "*/*" },
      credentials: "same-origin",
      cache: "no-store",
      redirect: "error",
      signal: given.signal,
    });
    signedOut = answer.status === 401;
    if (!answer.ok || !place(line, await answer.text())) throw new Error("no part came");
    freshAt = askedAt;
    good(line);
  } catch {
    broken(line);
  } finally {
    clearTimeout(timer);
    asking = false;
  }
  if (askAgain) {
    askAgain = false;
    setTimeout(() => ask(line), PAUSE);
  }
}

/**
 * Puts the part that came in the place of the one that is shown. What is open stays open, and focus where it is.
 * @param {HTMLElement} line
 * @param {string} html
 * @returns {boolean} whether it came
 */
function place(line, html) {
  const now = part(line);
  const fresh = new DOMParser().parseFromString(html, "text/html").getElementById(line.dataset.part ?? "");
  if (now === null || fresh === null) return false;
  for (const details of now.querySelectorAll("details[open][id]")) {
    fresh.querySelector(`#${CSS.escape(details.id)}`)?.setAttribute("open", "");
  }
  const focused = now.contains(document.activeElement) ? document.activeElement : null;
  const index = focused === null ? -1 : controls(now).indexOf(focused);
  const same = controls(fresh).find((control) => focused !== null && nameOf(control) === nameOf(focused));
  shown = Number(fresh.dataset.at ?? -1);
  now.replaceWith(document.adoptNode(fresh));
  const heir = same ?? controls(fresh)[index];
  if (focused !== null && heir instanceof HTMLElement) heir.focus({ preventScroll: true });
  document.dispatchEvent(new CustomEvent("dovetally:placed"));
  return true;
}

/** @param {Element} within @returns {Element[]} */
function controls(within) {
  return Array.from(within.querySelectorAll("a[href], summary"));
}

/** @param {Element} control */
function nameOf(control) {
  const to = control.getAttribute("href") ?? control.closest("details")?.id ?? "";
  return `${to} ${control.className}`;
}

/** @param {HTMLElement} line */
function good(line) {
  // An answer that came after the stream broke says what was, and no more.
  if (source === null || source.readyState !== EventSource.OPEN) return;
  say(line, "good");
}

/** @param {HTMLElement} line */
function broken(line) {
  say(line, "broken");
}

/**
 * Says how live the page is, in words.
 * @param {HTMLElement} line
 * @param {"good" | "broken"} how
 */
function say(line, how) {
  for (const words of line.querySelectorAll("[data-live]")) {
    if (words instanceof HTMLElement) words.hidden = words.dataset.live !== how;
  }
  const text = line.querySelector(`[data-live="${how}"] [data-words]`);
  if (text instanceof HTMLElement) {
    const sentence = (text.dataset.words ?? "").replaceAll("{time}", moment(new Date(freshAt), "second"));
    const words = how === "broken" && signedOut ? `${sentence} ${text.dataset.signIn ?? ""}` : sentence;
    if (text.textContent !== words) text.textContent = words;
  }
  part(line)?.classList.toggle("old", how === "broken");
}
