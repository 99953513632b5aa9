// What came to nothing at the counter and is not read yet: it stays, whatever is answered after it, until somebody has
// read it, or makes a good scan with it on the screen. It survives a reload, and is shown to whoever scanned it.

/**
 * @typedef {object} Unread
 * @property {string} id
 * @property {string} owner the badge of whoever scanned it
 * @property {number} at when it was first on the screen
 * @property {string} html what is shown of it
 */

import { freshKey } from "./queue.js";

const NAME = "dovetally.unread";

/** @returns {Unread[]} */
function all() {
  try {
    const kept = JSON.parse(localStorage.getItem(NAME) ?? "[]");
    return Array.isArray(kept) ? kept : [];
  } catch {
    return [];
  }
}

/** @param {Unread[]} entries */
function keep(entries) {
  localStorage.setItem(NAME, JSON.stringify(entries));
}

function owner() {
  return document.body.dataset.badge ?? "";
}

/** Shows what is not read yet, and takes up what the page came with. */
export function start() {
  const list = document.getElementById("unread");
  if (list === null) return;
  for (const entry of all().filter((entry) => entry.owner === owner())) {
    const shown = new DOMParser().parseFromString(entry.html, "text/html").body.firstElementChild;
    if (shown instanceof HTMLElement) put(list, shown, entry.id);
  }
  takeUp();
}

/**
 * @param {HTMLElement} list
 * @param {HTMLElement} shown
 * @param {string} id
 */
function put(list, shown, id) {
  shown.dataset.unread = id;
  list.prepend(document.adoptNode(shown));
}

/** Moves what stays out of the result's place: the next result comes there. */
export function takeUp() {
  const list = document.getElementById("unread");
  const stays = document.querySelector("#result [data-stays]");
  if (list === null || !(stays instanceof HTMLElement)) return;
  const id = freshKey();
  keep([...all(), { id, owner: owner(), at: Date.now(), html: stays.outerHTML }]);
  put(list, stays, id);
}

/**
 * A good scan was made: what was on the screen then was seen. What came after it was not.
 * @param {number} madeAt
 */
export function seenBefore(madeAt) {
  for (const entry of all()) {
    if (entry.owner === owner() && entry.at < madeAt) drop(entry.id);
  }
}

/**
 * Somebody has read it, or answered what it asks.
 * @param {Element} within
 */
export function read(within) {
  const shown = within.closest("[data-unread]");
  if (shown instanceof HTMLElement) drop(shown.dataset.unread ?? "");
}

/** @param {string} id */
function drop(id) {
  keep(all().filter((entry) => entry.id !== id));
  document.querySelector(`[data-unread="${CSS.escape(id)}"]`)?.remove();
}
