// What the tests of a setup share.

import assert from "node:assert/strict";
import { api, axe, secret } from "./harness.js";
import * as looks from "./looks.js";

/** @typedef {import("playwright-core").Page} Page */

/** The rules of floor pages, for looks that only the middle of a setup has. @param {Page} page */
export async function looksRight(page) {
  assert.equal(await page.locator("body").getAttribute("class"), "floor");
  for (const scheme of /** @type {const} */ (["dark", "light"])) {
    await page.emulateMedia({ colorScheme: scheme });
    assert.deepEqual(await axe(page), [], scheme);
    assert.deepEqual(await page.evaluate(looks.weakContrast, { text: 7, marks: 3 }), [], scheme);
  }
  assert.deepEqual(await page.evaluate(looks.wordless), []);
  assert.deepEqual(await page.evaluate(looks.mainAction, { height: 120, full: true }), []);
  assert.deepEqual(await page.evaluate(looks.hardToHit, { height: 64, gap: 16 }), []);
  assert.equal(await page.evaluate(() => document.scrollingElement?.scrollWidth), 360);
}

/** What stands in the way of the release is on every page of a setup, as the API has it. @param {Page} page @param {string} id */
export async function saysWhatBlocks(page, id) {
  const { body } = await api("setter", `/v1/setups/${id}`);
  const said = await page.locator(".blocks, #blocks-title").first().textContent();
  const count = body.blockers.length;
  if (count > 1) assert.match(said ?? "", new RegExp(`^\\s*${count} things`));
  else if (count === 1) assert.match(said ?? "", /One thing/);
  else assert.match(said ?? "", /Nothing blocks/);
}

/** The warning is told before the form of the main action, to whoever sees the page and whoever hears it. @param {Page} page */
export async function warnsFirst(page) {
  const order = await page.evaluate(() => {
    const hazards = Array.from(document.querySelectorAll("section.hazard"));
    const main = document.querySelector(".button.main");
    const form = main?.closest("form") ?? main;
    return hazards.map((hazard) => form !== null && (hazard.compareDocumentPosition(form) & Node.DOCUMENT_POSITION_FOLLOWING) !== 0);
  });
  assert.ok(order.length > 0, "the page warns");
  assert.deepEqual(order, order.map(() => true), "before the form");
}

/** @param {Page} page @param {string | RegExp} ending */
export async function leadsTo(page, ending) {
  const there = (/** @type {URL} */ url) => {
    const at = url.pathname + url.search;
    return typeof ending === "string" ? at.endsWith(ending) : ending.test(at);
  };
  try {
    await page.waitForURL(there, { timeout: 10000 });
  } catch {
    assert.fail(`not at ${ending}: ${page.url()}\n${await page.locator("main").innerText()}`);
  }
}

/** @param {Page} page */
export const tapMain = (page) => page.locator(".button.main").click();

/** @param {Page} page @param {string} value */
export async function typeAndKeep(page, value) {
  await page.fill("#value", value);
  await tapMain(page);
  await page.locator(".read-back").waitFor();
  await tapMain(page);
}

/**
 * A value that is doubted: why stands above the one main action, which is to change it.
 * @param {Page} page @param {RegExp} why
 */
export async function doubted(page, why) {
  await page.locator(".button.main", { hasText: "Change it" }).waitFor();
  const said = page.locator(".fault").first();
  assert.match((await said.textContent()) ?? "", why);
  const [above, below] = [await said.boundingBox(), await page.locator(".button.main").boundingBox()];
  assert.ok(above !== null && below !== null && above.y + above.height <= below.y, "in sight, above the main action");
  await looksRight(page);
}

/** The kinds of a setup's events, in order. @param {string} id */
export async function kinds(id) {
  const { body } = await api("setter", `/v1/setups/${id}/events`);
  return body.items.map((/** @type {any} */ event) => event.kind);
}

/** Signs somebody else in from a page that asks for another person, and comes back to it. @param {Page} page @param {string} badge */
export async function changePerson(page, badge) {
  const here = new URL(page.url()).pathname;
  await tapMain(page);
  await page.fill("#badge", badge);
  await page.fill("#secret", secret);
  await tapMain(page);
  await page.waitForURL((url) => url.pathname === here);
}
