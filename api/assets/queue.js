// What was scanned and is not answered yet: kept in the browser, in order, each with a key of its own and its owner.
//
// It survives a reload and the loss of the network. A scan is sent only under whoever made it, and only when the one
// before it was answered; its key makes sure that it does its work once, however often it is sent.

/**
 * @typedef {object} Entry
 * @property {string} key its idempotency key
 * @property {string} owner the badge of whoever scanned it
 * @property {string} address where it is sent
 * @property {string} code what was scanned
 * @property {number} at when
 * @property {string} [reply] the reply to what was asked about this code
 * @property {string} [purpose] what it was scanned for, as chosen then
 * @property {string} [condition] how it comes back, as chosen for it; empty where nothing was
 * @property {string} [body] the form as it was first sent: a key belongs to one form
 */

const NAME = "dovetally.unsent";
const LEASE = "dovetally.sending";
/** A page that sends says so this often; one that has not for so long is gone. */
const LEASE_LASTS = 8000;

const me = freshKey();

/**
 * A key that nobody else has. Also where the page is not in a secure context.
 * @returns {string}
 */
export function freshKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** @returns {Entry[]} */
export function all() {
  try {
    const kept = JSON.parse(localStorage.getItem(NAME) ?? "[]");
    return Array.isArray(kept) ? kept : [];
  } catch {
    return [];
  }
}

/** @param {Entry[]} entries */
function keep(entries) {
  localStorage.setItem(NAME, JSON.stringify(entries));
}

/** @param {Entry} entry */
export function add(entry) {
  keep([...all(), entry]);
}

/** @param {string} key */
export function remove(key) {
  keep(all().filter((entry) => entry.key !== key));
}

/**
 * Fixes the form that an entry is sent as.
 * @param {string} key
 * @param {string} body
 */
export function fix(key, body) {
  keep(all().map((entry) => (entry.key === key ? { ...entry, body } : entry)));
}

/**
 * The first entry of an owner.
 * @param {string} owner
 * @returns {Entry | undefined}
 */
export function first(owner) {
  return all().find((entry) => entry.owner === owner);
}

/**
 * Takes the right to send: one page of a browser at a time, so that the order is kept.
 * @returns {boolean}
 */
export function takeTurn() {
  const now = Date.now();
  try {
    const held = JSON.parse(localStorage.getItem(LEASE) ?? "null");
    if (held && held.by !== me && now - held.at < LEASE_LASTS) return false;
  } catch {
    // Nobody can read it, so nobody holds it.
  }
  localStorage.setItem(LEASE, JSON.stringify({ by: me, at: now }));
  return true;
}

/** Gives the right to send back. */
export function endTurn() {
  const held = localStorage.getItem(LEASE);
  if (held !== null && held.includes(me)) localStorage.removeItem(LEASE);
}
