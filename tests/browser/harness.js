// What the browser tests share: one server and one browser a file, people who are signed in, and what no page may ever do.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before } from "node:test";
import { chromium } from "playwright-core";
import { secret, start } from "./server.js";

export { secret };
/** The server, without a slash at the end. */
export const address = await start();
/** The same server by a name as a shop's network has it: plain HTTP, and no secure context. */
export const shopAddress = address.replace("127.0.0.1", "crib.shop.example");

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** @type {import("playwright-core").Browser} */
let browser;
/** What a page did that none may do, since it was last asked. @type {string[]} */
let misdeeds = [];
/** The cookies of each badge: signing in once a file is enough. @type {Map<string, any>} */
const signedIn = new Map();

before(async () => {
  browser = await chromium.launch({
    executablePath: process.env.DOVETALLY_TEST_CHROMIUM ?? "/usr/bin/chromium",
    args: [
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-default-apps",
      "--disable-domain-reliability",
      "--disable-sync",
      "--no-first-run",
      "--no-pings",
      "--no-sandbox",
      "--host-resolver-rules=MAP crib.shop.example 127.0.0.1, MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
    ],
  });
});

after(async () => {
  await browser?.close();
  // What the pages of the last test did: no test comes that asks for it.
  noMisdeeds();
});

/**
 * @typedef {object} Wishes
 * @property {string} [role] the badge of whoever is signed in; nobody without it
 * @property {number} [width]
 * @property {number} [height]
 * @property {"light" | "dark"} [scheme]
 * @property {string} [base] another address of the server
 * @property {string} [locale] the browser's language
 * @property {number} [dots] dots of the screen for each CSS pixel
 * @property {boolean} [scripts] whether scripts run; they do unless told
 */

/**
 * A page of a fresh profile. What it does that none may do is found by {@link noMisdeeds}.
 * @param {import("node:test").TestContext} t closes it at its end
 * @param {Wishes} [wishes]
 */
export async function open(t, wishes = {}) {
  const base = wishes.base ?? address;
  const context = await browser.newContext({
    baseURL: base,
    viewport: { width: wishes.width ?? 360, height: wishes.height ?? 740 },
    deviceScaleFactor: wishes.dots ?? 1,
    colorScheme: wishes.scheme ?? "light",
    locale: wishes.locale ?? "en-US",
    javaScriptEnabled: wishes.scripts ?? true,
    reducedMotion: "reduce",
  });
  t.after(() => context.close());
  await watch(context, new URL(base).host);
  const page = await context.newPage();
  if (wishes.role) {
    const known = `${base} ${wishes.role}`;
    const cookies = signedIn.get(known);
    if (cookies) {
      await context.addCookies(cookies);
    } else {
      await signIn(page, wishes.role);
      signedIn.set(known, await context.cookies());
    }
  }
  return page;
}

/**
 * Signs somebody in by the form.
 * @param {import("playwright-core").Page} page
 * @param {string} badge
 */
export async function signIn(page, badge) {
  await page.goto("/sign-in");
  await page.fill("#badge", badge);
  await page.fill("#secret", secret);
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname === "/");
}

/**
 * Notes violations of the content policy, requests to anybody else, and errors of scripts.
 * @param {import("playwright-core").BrowserContext} context
 * @param {string} host
 */
async function watch(context, host) {
  await context.exposeBinding("misdeed", (_, words) => misdeeds.push(words));
  await context.addInitScript(() => {
    document.addEventListener("securitypolicyviolation", (event) => {
      // @ts-ignore: the binding above
      window.misdeed(`the content policy was violated: ${event.violatedDirective} ${event.blockedURI}`);
    });
  });
  context.on("request", (request) => {
    const url = new URL(request.url());
    if (!["data:", "blob:", "about:"].includes(url.protocol) && url.host !== host) {
      misdeeds.push(`a request went to ${url.host}: ${request.url()}`);
    }
  });
  context.on("weberror", (error) => misdeeds.push(`a script failed: ${error.error().stack}`));
  context.on("console", (message) => {
    if (/Content Security Policy/.test(message.text())) misdeeds.push(message.text());
  });
}

/** Fails when a page did what none may do since the last time. */
export function noMisdeeds() {
  const found = misdeeds;
  misdeeds = [];
  assert.deepEqual(found, []);
}

/**
 * Asks the API as somebody; the same rules and records as the pages'.
 * @param {string} badge
 * @param {string} path
 * @param {object} [body] with one, it is a POST
 */
export async function api(badge, path, body) {
  const credentials = { badge, secret };
  const session = await fetch(`${address}/v1/auth/sessions`, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(credentials),
  });
  const { access_token: token } = await session.json();
  const answer = await fetch(address + path, {
    method: body === undefined ? "GET" : "POST",
    headers: { Authorization: `Bearer ${token}`, "Content-Type": "application/json" },
    body: body === undefined ? undefined : JSON.stringify(body),
  });
  const text = await answer.text();
  return { status: answer.status, body: text === "" ? null : JSON.parse(text) };
}

/**
 * A path with the id of a machine's open setup in its place: "/setups/{setup of M-103}/S3".
 * @param {string} path
 */
export async function located(path) {
  const wanted = /\{setup of ([^}]+)\}/.exec(path);
  if (wanted === null) return path;
  const { body } = await api("supervisor", `/v1/setups?machine=${wanted[1]}&open=true`);
  return path.replace(wanted[0], body.items[0].id);
}

/** The records' end: it is another after every change. */
export async function recordsNow() {
  const { body } = await api("supervisor", "/v1/movements/verify");
  assert.equal(body.sound, true, JSON.stringify(body));
  return `${body.changes} ${body.chain_hash}`;
}

/**
 * What axe finds, as short text.
 * @param {import("playwright-core").Page} page
 * @returns {Promise<string[]>}
 */
export async function axe(page) {
  await page.evaluate(axeSource);
  const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
  const result = await page.evaluate(
    // @ts-ignore: axe came with the line before
    (only) => window.axe.run(document, { runOnly: { type: "tag", values: only } }),
    tags,
  );
  return result.violations.flatMap((/** @type {any} */ violation) =>
    violation.nodes.map((/** @type {any} */ node) => `${violation.id}: ${node.html}: ${node.failureSummary}`),
  );
}

/**
 * Types as a scanner does: every key at once, then Enter.
 * @param {import("playwright-core").Page} page
 * @param {string} text
 * @param {number} [gap] milliseconds from key to key
 */
export async function scan(page, text, gap = 5) {
  // With times of their own: how busy the machine is must not decide what is a scan.
  const keys = await page.context().newCDPSession(page);
  let timestamp = Date.now() / 1000;
  for (const key of [...text, "Enter"]) {
    const enter = key === "Enter";
    const press = enter ? { key, code: key, text: "\r", windowsVirtualKeyCode: 13 } : { key, text: key };
    await keys.send("Input.dispatchKeyEvent", { type: "keyDown", ...press, timestamp });
    await keys.send("Input.dispatchKeyEvent", { type: "keyUp", key, timestamp });
    timestamp += gap / 1000;
  }
  await keys.detach();
}

/**
 * Types as a hand does.
 * @param {import("playwright-core").Page} page
 * @param {string} text
 */
export async function typeByHand(page, text) {
  await page.keyboard.type(text, { delay: 80 });
  await page.waitForTimeout(80);
  await page.keyboard.press("Enter");
}
