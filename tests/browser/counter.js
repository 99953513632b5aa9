// What the tests of the counter share.

import assert from "node:assert/strict";
import { api, open } from "./harness.js";

/** What an item's ledger has, newest first. @param {string} item */
export async function moves(item) {
  const { body } = await api("clerk", `/v1/items/${item}/history?limit=200`);
  return body.items;
}

/** Everything that is out comes back, so that each test begins alike. @param {string[]} items */
export async function bringBack(...items) {
  for (const code of items) {
    const { body: item } = await api("clerk", `/v1/items/${code}`);
    if (item.where.kind !== "person") continue;
    const back = { items: [{ code, place: "BIN-A1", condition: item.condition }], person: item.where.key };
    const { status, body } = await api("clerk", "/v1/checkins", back);
    assert.equal(status, 201, JSON.stringify(body));
  }
}

/** @param {import("node:test").TestContext} t @param {object} [wishes] */
export async function counter(t, wishes) {
  const page = await open(t, { role: "clerk", ...wishes });
  await page.goto("/counter");
  return page;
}

/** @param {import("playwright-core").Page} page @param {RegExp} words */
export async function says(page, words) {
  await page.locator("#said").filter({ hasText: words }).waitFor({ timeout: 5000 });
}
