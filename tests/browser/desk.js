// What the tests of the desk's pages share.

import assert from "node:assert/strict";
import { api } from "./harness.js";

/** What the API answers to the supervisor. @param {string} path */
export async function read(path) {
  const { status, body } = await api("supervisor", path);
  assert.equal(status, 200, JSON.stringify(body));
  return body;
}

/** Texts as they are read, on one line. @param {import("playwright-core").Page} page @param {string} selector */
export async function texts(page, selector) {
  return (await page.locator(selector).allTextContents()).map((text) => text.replace(/\s+/g, " ").trim());
}

/** Presses a button and waits for the page that answers. @param {import("playwright-core").Page} page @param {string} [button] */
export async function send(page, button = ".button.main") {
  await Promise.all([page.waitForEvent("load"), page.click(button)]);
}

/** Chooses one of a form's radios. @param {import("playwright-core").Page} page @param {string} name @param {string} value */
export async function choose(page, name, value) {
  await page.check(`input[name="${name}"][value="${value}"]`);
}
