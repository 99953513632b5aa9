// A release on a second setter's word: its limits are told before it is given and after.

import assert from "node:assert/strict";
import test from "node:test";
import { api, noMisdeeds, open } from "./harness.js";
import { Measured, holds, inch, stations } from "./measuring.js";

const shop = new Measured("192");

/**
 * Whether a shop knows provisional releases, by its settings' page.
 * @param {import("playwright-core").Page} page
 * @param {boolean} known
 */
async function settle(page, known) {
  await page.goto("/settings");
  await page.locator("label.button", { hasText: known ? "is done here" : "is not done here" }).first().click();
  if (known) {
    await page.fill("#pieces", "2000");
    await page.fill("#minutes", "480");
  }
  await page.click(".button.main");
  await page.waitForLoadState();
  const { body } = await api("setter", "/v1/settings");
  assert.deepEqual(body.provisional_release ?? null, known ? { most_pieces: 2000, most_minutes: 480 } : null);
}

test("a provisional release says so with its pieces and hours, and is told so until it ends", async (t) => {
  const administrator = await open(t, { role: "administrator" });
  await settle(administrator, true);
  await shop.prepare();
  // A setup keeps the settings that it was opened with.
  await settle(administrator, false);
  await shop.beginTrial();
  const { body: before } = await api("setter", `/v1/setups/${shop.setup}`);
  const piece = Math.max(...before.stations.map((/** @type {any} */ at) => at.first_good_piece));
  const readings = stations.flatMap(({ code, features }) =>
    features.map(([feature, size]) => ({ station: code, feature, spindle: 1, value: inch(Number(size)) })),
  );
  const judged = { kind: "first_piece_judged", accepted: true, piece, readings };
  const { status, body } = await api("setter-2", `/v1/setups/${shop.setup}/events`, judged);
  assert.ok([200, 201].includes(status), JSON.stringify(body));

  const page = await open(t, { role: "setter" });
  await page.goto(`/setups/${shop.setup}/steps/run_released`);
  assert.match((await page.textContent("main .lead")) ?? "", /not by an inspector\. The release is provisional/);
  assert.equal(await page.textContent(".button.main"), "Release until the inspector comes: 2000 pieces, 8 hours at most");
  await holds(page);
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname === `/setups/${shop.setup}`);
  const state = page.locator("main > p", { has: page.locator(".state.wait"), hasText: "Released provisionally" });
  assert.match((await state.textContent()) ?? "", /2000 pieces at most, until/);
  assert.equal(await state.locator("time").count(), 1);
  assert.doesNotMatch((await state.textContent()) ?? "", /UTC/);
  assert.equal(await page.textContent(".button.main"), "Measure a piece", "judging is the inspector's");
  await holds(page);

  await page.goto("/machines");
  const told = page.locator("p", { hasText: "Provisional release, 2000 pieces at most" }).first();
  assert.equal(await told.locator("time").count(), 1);
  assert.doesNotMatch((await told.textContent()) ?? "", /UTC/);
  noMisdeeds();
});
