// What happens with a scan on a page: it fills a field, or sends the page's scan form, kept until it is answered.

import { listen, settingsOf } from "./reader.js";
import * as queue from "./queue.js";
import * as unread from "./unread.js";

/** After so long without an answer a scan counts as not answered, and is sent again. */
const ANSWER_WAITS = 15000;
/** So long without an answer, and the place of the result says that there is none yet. */
const SLOW = 700;
/** Pauses between attempts, in milliseconds. */
const PAUSES = [500, 1000, 2000, 5000, 10000];

let sending = false;
let failures = 0;
/** @type {number | undefined} */ let later;
/** When a purpose or condition was last chosen by hand. */
let chosenAt = 0;
/** The condition that the last answer left standing for an item that waits, and when that was there. */
let left = { condition: "", at: 0 };

/** Starts scanning on this page. */
export function start() {
  const form = /** @type {HTMLFormElement | null} */ (document.getElementById("scan"));
  if (form === null) {
    showUnsent();
    return;
  }
  const box = /** @type {HTMLInputElement | null} */ (document.getElementById("scan-code"));
  const kept = form.dataset.keep === "true";
  listen(document, settingsOf(form), (text) => {
    const into = form.dataset.scanInto;
    if (into !== undefined) {
      fill(into, form.dataset.then, text);
    } else if (kept) {
      scanned(form, text);
    } else if (box !== null) {
      box.value = text;
      form.requestSubmit();
    }
  });
  if (kept && box !== null) {
    form.addEventListener("submit", (event) => {
      // A button that means something of its own goes to the server as it is.
      if (event.submitter instanceof HTMLElement && event.submitter.dataset.alone === "true") return;
      event.preventDefault();
      const text = box.value.trim();
      box.value = "";
      if (text !== "") scanned(form, text);
    });
    document.addEventListener("submit", (event) => reply(form, event));
    document.addEventListener("change", (event) => {
      if (event.target instanceof Element && event.target.closest("#meant") !== null) chosenAt = Date.now();
    });
    window.addEventListener("online", () => send(form));
    unread.start();
    send(form);
  }
  document.addEventListener("click", (event) => {
    const dismiss = event.target instanceof Element ? event.target.closest("[data-dismiss]") : null;
    if (dismiss !== null) {
      unread.read(dismiss);
      box?.focus();
    }
  });
  showUnsent();
}

/**
 * Puts a scan into a field and goes on to the next.
 * @param {string} into
 * @param {string | undefined} then
 * @param {string} text
 */
function fill(into, then, text) {
  const field = document.getElementById(into);
  if (field instanceof HTMLInputElement) field.value = text;
  if (then !== undefined) document.getElementById(then)?.focus();
}

/**
 * Keeps a form as it is filled in now.
 * @param {HTMLFormElement} form the page's scan form
 * @param {HTMLFormElement} filled
 * @param {string} code what it is about
 */
function filledIn(form, filled, code) {
  const owner = document.body.dataset.badge ?? "";
  const fields = new FormData(filled);
  fields.delete("key");
  fields.set("by", owner);
  const body = new URLSearchParams(/** @type {any} */ (fields)).toString();
  const address = filled.getAttribute("action") ?? "";
  queue.add({ key: queue.freshKey(), owner, address, code, at: Date.now(), body });
  showUnsent();
  if (failures > 0) showWaiting(form);
  send(form);
}

/**
 * Keeps a scan with what is meant by it now: it may be sent much later.
 * @param {HTMLFormElement} form
 * @param {string} code
 * @param {string} [reply]
 */
function scanned(form, code, reply) {
  const owner = document.body.dataset.badge ?? "";
  const [purpose, condition] = [chosen(form, "purpose"), chosen(form, "condition")];
  const address = form.getAttribute("action") ?? "";
  queue.add({
    key: queue.freshKey(),
    owner,
    address,
    code,
    at: Date.now(),
    reply,
    purpose: purpose?.value,
    condition: condition?.value,
  });
  // How one item comes back is no word about the one that is scanned before it is answered.
  if (condition !== null) condition.value = "";
  showUnsent();
  if (failures > 0) showWaiting(form);
  send(form);
}

/**
 * @param {HTMLFormElement} form
 * @param {string} name
 */
function chosen(form, name) {
  const box = form.elements.namedItem(name);
  return box instanceof HTMLSelectElement ? box : null;
}

/**
 * The reply to what was asked about a code is kept as a scan of it is.
 * @param {HTMLFormElement} form
 * @param {SubmitEvent} event
 */
function reply(form, event) {
  const replied = event.target;
  const button = event.submitter;
  if (!(replied instanceof HTMLFormElement) || replied.dataset.kept !== "true") return;
  if (!(button instanceof HTMLButtonElement)) return;
  event.preventDefault();
  const about = replied.dataset.about;
  if (about !== undefined) filledIn(form, replied, about);
  else scanned(form, button.value, String(new FormData(replied).get("reply") ?? ""));
  // What was asked is answered: a second tap finds nothing to tap.
  unread.read(button);
  if (button.isConnected) button.disabled = true;
  document.getElementById("scan-code")?.focus();
}

/**
 * Sends what waits, one after the other, under whoever is signed in.
 * @param {HTMLFormElement} form
 */
async function send(form) {
  if (sending) return;
  clearTimeout(later);
  const owner = document.body.dataset.badge ?? "";
  sending = true;
  try {
    for (let entry = queue.first(owner); entry !== undefined; entry = queue.first(owner)) {
      if (!queue.takeTurn()) {
        showWaiting(form);
        later = setTimeout(() => send(form), 1000);
        return;
      }
      const outcome = await sendOne(form, entry);
      if (outcome !== "answered") showWaiting(form);
      if (outcome === "wait") return;
      if (outcome === "again") {
        later = setTimeout(() => send(form), PAUSES[Math.min(failures, PAUSES.length - 1)]);
        failures += 1;
        return;
      }
      failures = 0;
    }
  } finally {
    sending = false;
    queue.endTurn();
    showUnsent();
  }
}

/**
 * @param {HTMLFormElement} form
 * @param {import("./queue.js").Entry} entry
 * @returns {Promise<"answered" | "again" | "wait">}
 */
async function sendOne(form, entry) {
  let body = entry.body;
  if (body === undefined) {
    const fields = new FormData(form);
    fields.delete("key");
    fields.set("code", entry.code);
    fields.set("by", entry.owner);
    if (entry.reply) fields.set("reply", entry.reply);
    if (entry.purpose !== undefined) fields.set("purpose", entry.purpose);
    // A bin or badge that was scanned before an item came to wait for it carries no condition: the item's stands.
    const stood = (entry.at ?? 0) < left.at ? left.condition : "";
    if (entry.condition !== undefined) fields.set("condition", entry.condition || stood);
    body = new URLSearchParams(/** @type {any} */ (fields)).toString();
    queue.fix(entry.key, body);
  }
  const given = new AbortController();
  const timer = setTimeout(() => given.abort(), ANSWER_WAITS);
  const slow = setTimeout(() => showWaiting(form), SLOW);
  try {
    const answer = await fetch(entry.address, {
      method: "POST",
      body,
      credentials: "same-origin",
      redirect: "error",
      headers: {
        "Content-Type": "application/x-www-form-urlencoded",
        Accept: "text/html",
        "Idempotency-Key": entry.key,
      },
      signal: given.signal,
    });
    const text = await answer.text();
    // Whoever is signed in now is somebody else, or nobody: it waits for its owner.
    if (answer.status === 401) {
      document.getElementById("unsent")?.setAttribute("data-signed-out", "true");
      return "wait";
    }
    if (answer.status === 429 || answer.status >= 500 || answer.headers.has("Retry-After")) return "again";
    queue.remove(entry.key);
    place(form, text, entry);
    return "answered";
  } catch {
    return "again";
  } finally {
    clearTimeout(timer);
    clearTimeout(slow);
  }
}

/**
 * Puts the parts of an answered page in the places of this page's. Focus stays where it is.
 * @param {HTMLFormElement} form
 * @param {string} html
 * @param {import("./queue.js").Entry} entry what it answers
 */
function place(form, html, entry) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const names = (form.dataset.parts ?? "").split(" ").filter((name) => name !== "");
  const known = names.some((name) => page.getElementById(name) !== null);
  // What was chosen since this was scanned is for what comes next.
  const stays = chosenAt > (entry.at ?? 0) ? "meant" : "";
  const condition = page.querySelector("[name=waiting]") === null ? null : page.getElementById("condition");
  left = { condition: condition instanceof HTMLSelectElement ? condition.value : "", at: Date.now() };
  for (const name of names.filter((name) => name !== stays)) {
    const part = page.getElementById(name);
    if (part !== null) document.getElementById(name)?.replaceChildren(...Array.from(part.childNodes));
  }
  if (!known) {
    // Another page than this one's came back: it says what happened in its heading and first paragraph.
    const said = Array.from(page.querySelectorAll("main h1, main .lead"), (node) => node.textContent).join(" ");
    document.getElementById(names[0] ?? "")?.replaceChildren(unknown(entry.code, said));
    const box = chosen(form, "condition");
    if (box !== null && stays === "") box.value = entry.condition ?? "";
  }
  if (document.querySelector("#result [data-good]") !== null) unread.seenBefore(entry.at ?? 0);
  unread.takeUp();
  document.dispatchEvent(new CustomEvent("dovetally:placed"));
}

/**
 * One line in the place of the result, with the shape of its state.
 * @param {string} mark
 * @param {string} words
 */
function saidLine(mark, words) {
  const said = document.createElement("p");
  said.className = "said asks";
  const shape = document.createElement("span");
  shape.className = `mark ${mark}`;
  shape.setAttribute("aria-hidden", "true");
  const text = document.createElement("span");
  text.textContent = words;
  said.append(shape, text);
  return said;
}

/**
 * What another page than this one's told of a code: it stays as a refusal does.
 * @param {string} code
 * @param {string} told
 */
function unknown(code, told) {
  const stays = document.createElement("section");
  stays.className = "unread";
  stays.dataset.stays = "true";
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button";
  button.dataset.dismiss = "true";
  button.textContent = document.getElementById("unsent")?.dataset.read ?? "";
  const last = document.createElement("p");
  last.append(button);
  stays.append(saidLine("off", `${code}: ${told}`), last);
  return stays;
}

/**
 * Says of what was scanned last that it is not sent yet: an older result is none for it.
 * @param {HTMLFormElement} form
 */
function showWaiting(form) {
  const result = document.getElementById((form.dataset.parts ?? "").split(" ")[0] ?? "");
  const last = queue.all().findLast((entry) => entry.owner === (document.body.dataset.badge ?? ""));
  if (result === null || last === undefined) return;
  const words = document.getElementById("unsent")?.dataset.notSent ?? "";
  const said = saidLine("off", words.replaceAll("{code}", last.code));
  said.dataset.waiting = "true";
  // What stands there already is not told again.
  if (result.textContent?.trim() !== said.textContent) result.replaceChildren(said);
}

/** Says how much is not sent. */
export function showUnsent() {
  const line = document.getElementById("unsent");
  if (line === null) return;
  const owner = document.body.dataset.badge ?? "";
  /** @type {Map<string, string[]>} */ const waiting = new Map();
  for (const entry of queue.all()) waiting.set(entry.owner, [...(waiting.get(entry.owner) ?? []), entry.code]);
  const sentences = Array.from(waiting, ([badge, codes]) => {
    const words = (badge === owner ? line.dataset.mine : line.dataset.others) ?? "";
    const counted = words.replaceAll("{count}", String(codes.length)).replaceAll("{badge}", badge);
    return counted.replaceAll("{codes}", codes.join(", "));
  });
  if (waiting.has(owner)) {
    if (line.dataset.signedOut === "true") sentences.push(line.dataset.signIn ?? "");
    else if (failures > 0) sentences.push(line.dataset.noAnswer ?? "");
  }
  // A sentence each: they are not to run together.
  line.replaceChildren(
    ...sentences.map((sentence) => {
      const said = document.createElement("p");
      said.textContent = sentence;
      return said;
    }),
  );
  line.hidden = sentences.length === 0;
  // Another page of this browser may have sent it: then its answer is there.
  if (!waiting.has(owner)) document.querySelector("#said [data-waiting]")?.remove();
}
