// A verdict on a gauge, which is not known to hold for ever: when it has stood for a while it is the page's own "not
// checked", and what rests on it goes. On a page that asks, what is scanned is asked about at once, and until the answer is
// there, and when none comes, it is "not checked" too.

/** So long an answer is waited for, in milliseconds. */
const ANSWER_WAITS = 3000;

/** The question that is open: an answer to an older one is not shown. */ let question = 0;
/** When the verdict that is shown goes stale; never while none is shown. */ let staleAt = Infinity;
/** @type {string} */ let scanned = "";

/** Starts on a page that has a verdict or asks for one. */
export function start() {
  const answer = document.getElementById("answer");
  if (answer === null || answer.dataset.standsFor === undefined) return;
  const form = document.getElementById("scan");
  if (form instanceof HTMLFormElement && form.dataset.asks === "verdict") {
    const box = /** @type {HTMLInputElement} */ (document.getElementById("scan-code"));
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const text = box.value.trim();
      box.value = "";
      if (text !== "") ask(form, text);
    });
  }
  // A page that came with a verdict: it stands from now on, and an address that is loaded again asks nothing.
  scanned = answer.dataset.scanned ?? "";
  if (scanned !== "") {
    stands(answer);
    history.replaceState(null, "", answer.dataset.anew);
  }
  const look = () => {
    if (Date.now() >= staleAt) unanswered("old");
  };
  setInterval(look, 500);
  // A device that slept runs no clock: it looks before anybody can.
  document.addEventListener("visibilitychange", look);
  window.addEventListener("focus", look);
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) unanswered("old");
  });
}

/** @param {HTMLElement} answer */
function stands(answer) {
  staleAt = Date.now() + Number(answer.dataset.standsFor ?? 0) * 1000;
}

/**
 * @param {HTMLFormElement} form
 * @param {string} text
 */
async function ask(form, text) {
  question += 1;
  const mine = question;
  scanned = text;
  unanswered("asking");
  const given = new AbortController();
  const timer = setTimeout(() => given.abort(), ANSWER_WAITS);
  const box = /** @type {HTMLInputElement} */ (document.getElementById("scan-code"));
  let why = "noAnswer";
  try {
    const address = `${form.getAttribute("action")}?${new URLSearchParams({ [box.name]: text })}`;
    const answer = await fetch(address, {
      headers: { Accept: "text/html" },
      credentials: "same-origin",
      cache: "no-store",
      // Nobody signed in is led elsewhere.
      redirect: "manual",
      signal: given.signal,
    });
    if (answer.type === "opaqueredirect" || answer.status === 401) why = "signedOut";
    const html = answer.ok ? await answer.text() : "";
    if (mine !== question) return;
    const came = new DOMParser().parseFromString(html, "text/html").getElementById("answer");
    const verdict = came?.querySelector("#verdict");
    if (came === null || verdict === null || verdict === undefined) {
      unanswered(why);
      return;
    }
    const place = document.getElementById("answer");
    if (place === null) return;
    place.replaceChildren(...Array.from(came.childNodes));
    stands(place);
    document.dispatchEvent(new CustomEvent("dovetally:placed"));
  } catch {
    if (mine === question) unanswered(why);
  } finally {
    clearTimeout(timer);
  }
}

/**
 * Shows "not checked", and why.
 * @param {string} why
 */
function unanswered(why) {
  staleAt = Infinity;
  const pattern = document.getElementById("unanswered");
  if (!(pattern instanceof HTMLTemplateElement)) return;
  const shown = /** @type {DocumentFragment} */ (pattern.content.cloneNode(true));
  const gauge = shown.querySelector("[data-gauge]");
  if (gauge instanceof HTMLElement) gauge.textContent = (gauge.dataset.gauge ?? "").replaceAll("{gauge}", scanned);
  const reason = shown.querySelector("[data-reason]");
  if (reason instanceof HTMLElement) reason.textContent = reason.dataset[why] ?? "";
  document.getElementById("answer")?.replaceChildren(shown);
  for (const rests of document.querySelectorAll('[data-rests-on="verdict"]')) rests.remove();
}
