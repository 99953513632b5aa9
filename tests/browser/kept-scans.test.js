// What is kept with a scan until it is answered: what was meant by it, and whose it is.

import assert from "node:assert/strict";
import test from "node:test";
import { counter, moves, says } from "./counter.js";
import { api, noMisdeeds, open, scan, signIn } from "./harness.js";

test("a condition goes with the scan for which it was chosen, whenever that is sent, and what is chosen since stays", async (t) => {
  const items = ["FT-191", "FT-192", "FT-193", "FT-194"];
  for (const code of items) {
    const made = await api("supervisor", "/v1/form-tools", { code, design: "TD-11", place: "BIN-A1" });
    assert.equal(made.status, 201, JSON.stringify(made.body));
  }
  const condition = async (/** @type {string} */ item) => (await api("clerk", `/v1/items/${item}`)).body.condition;
  const recorded = await condition("FT-191");
  const out = await api("clerk", "/v1/checkouts", { items, person: "setter", purpose: "check" });
  assert.equal(out.status, 201, JSON.stringify(out.body));
  const page = await counter(t);
  await page.route("**/counter/scans", async (route) => {
    await new Promise((resolve) => setTimeout(resolve, 700));
    await route.continue();
  });
  await scan(page, "FT-191");
  await page.selectOption("#condition", "damaged");
  await page.selectOption("#purpose", "grind");
  await scan(page, "FT-192");
  await scan(page, "FT-193");
  await says(page, /FT-193 is taken back/);
  assert.deepEqual(await Promise.all(items.slice(0, 3).map(condition)), [recorded, "damaged", recorded]);
  assert.equal(await page.inputValue("#purpose"), "grind");
  await scan(page, "FT-194");
  await page.selectOption("#condition", "needs_grinding");
  await says(page, /FT-194 is taken back/);
  assert.deepEqual([await condition("FT-194"), await page.inputValue("#condition")], [recorded, "needs_grinding"]);
  noMisdeeds();
});

test("a page that is open since somebody else was signed in sends nothing under their successor", async (t) => {
  const page = await open(t);
  await signIn(page, "clerk");
  await page.goto("/counter");
  const other = await page.context().newPage();
  await signIn(other, "supervisor");
  await scan(page, "setter");
  await scan(page, "FT-008");
  const unsent = page.locator("#unsent").filter({ hasText: "2 waiting" });
  await unsent.filter({ hasText: "Sign in again" }).waitFor();
  assert.notEqual((await moves("FT-008"))[0].kind, "checked_out");
  await signIn(other, "clerk");
  await page.goto("/counter");
  await page.locator("#unsent").waitFor({ state: "hidden" });
  const [newest] = await moves("FT-008");
  assert.deepEqual([newest.kind, newest.recorded_by], ["checked_out", "clerk"]);
  noMisdeeds();
});

test("a job's return is kept while the network is off, as it was filled in, and sent once", async (t) => {
  const items = ["FT-195", "FT-196", "FT-197"];
  for (const code of items) {
    const made = await api("supervisor", "/v1/form-tools", { code, design: "TD-11", place: "BIN-A1" });
    assert.equal(made.status, 201, JSON.stringify(made.body));
  }
  const { body: jobs } = await api("clerk", "/v1/jobs?limit=1");
  const job = jobs.items[0].number;
  const out = await api("clerk", "/v1/checkouts", { items, person: "setter", job, purpose: "use" });
  assert.equal(out.status, 201, JSON.stringify(out.body));
  const page = await counter(t);
  await scan(page, job);
  await says(page, new RegExp(`Out for job ${job}`));
  await page.selectOption("#back-FT-196", "damaged");
  await page.selectOption("#back-FT-197", "out");
  await page.context().setOffline(true);
  await page.getByRole("button", { name: /^Take/ }).click();
  const unsent = page.locator("#unsent").filter({ hasText: "1 waiting" });
  await unsent.waitFor();
  assert.equal((await moves("FT-195"))[0].kind, "checked_out");
  // Back on the net it would be sent at once: held up, it is still there after a reload.
  await page.route("**/counter/returns", (route) => route.abort());
  await page.context().setOffline(false);
  await page.reload();
  await unsent.waitFor();
  await page.unroute("**/counter/returns");
  await says(page, /Taken back for job .*: 2\. Not back: 1/);
  await page.locator("#unsent").waitFor({ state: "hidden" });
  const newest = await Promise.all(items.map(async (item) => (await moves(item)).map(({ kind }) => kind)));
  const ends = (/** @type {string[]} */ kinds) => kinds.slice(0, kinds.indexOf("checked_out") + 1);
  assert.deepEqual(newest.map(ends), [["checked_in", "checked_out"], ["checked_in", "checked_out"], ["checked_out"]]);
  const { body: damaged } = await api("clerk", "/v1/items/FT-196");
  assert.equal(damaged.condition, "damaged");
  noMisdeeds();
});
