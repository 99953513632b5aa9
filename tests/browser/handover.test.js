// Handing over: what the next shift must know, and that they take over what they have read.

import assert from "node:assert/strict";
import test from "node:test";
import { api, noMisdeeds, open, recordsNow } from "./harness.js";

test("the list has every machine, its gauges, its open stations; taking over puts it on record as it was read", async (t) => {
  for (const scripts of [true, false]) {
    const page = await open(t, { role: "setter", scripts });
    await page.goto("/handover");
    const { body: floor } = await api("setter", "/v1/floor");
    const text = (await page.locator("main").innerText()).replaceAll(/\s+/g, " ");
    for (const machine of floor.machines) {
      assert.ok(text.includes(machine.machine), machine.machine);
      for (const gauge of machine.gauges) assert.ok(text.includes(`Gauge ${gauge.code} is`), gauge.code);
      for (const station of machine.setup?.stations ?? []) {
        for (const open of station.open) assert.ok(text.includes(open), open);
      }
    }
    await page.fill("#note", "M-102 waits for bar");
    await page.click(".button.main");
    await page.waitForURL((url) => url.pathname.startsWith("/handover/"));
    const said = await page.locator("main").innerText();
    assert.match(said, /Taken over by Sam Okoro/);
    assert.match(said, /M-102 waits for bar/);
    const { body: taken } = await api("setter", `/v1${new URL(page.url()).pathname.replace("handover", "handovers")}`);
    assert.equal(taken.taken_by.badge, "setter");
    assert.equal(taken.note, "M-102 waits for bar");
    assert.deepEqual(taken.machines, floor.machines);
  }
  noMisdeeds();
});

test("a floor that has changed since it was read is not taken over: the new list is shown, and the note is kept", async (t) => {
  const page = await open(t, { role: "setter" });
  await page.goto("/handover");
  await page.fill("#note", "All quiet");
  const tagOut = { machine: "M-101", reason: "chips under the carrier" };
  const { body: placed } = await api("maintainer", "/v1/tag-outs", tagOut);
  const before = await recordsNow();
  await page.click(".button.main");
  await page.waitForSelector("#errors");
  assert.equal(await recordsNow(), before);
  assert.match(await page.title(), /^Error: /);
  assert.equal(await page.evaluate(() => document.activeElement?.id), "errors");
  const text = await page.locator("main").innerText();
  assert.match(text, /has changed since it was read/);
  assert.match(text, /chips under the carrier/);
  assert.equal(await page.inputValue("#note"), "All quiet");
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname.startsWith("/handover/"));
  const taken = page.url();
  await api("maintainer", `/v1/tag-outs/${placed.id}/clear`, { note: "swept" });
  // What was taken over stays as it was.
  await page.goto(taken);
  assert.match(await page.locator("main").innerText(), /chips under the carrier/);
  await page.goto("/handover");
  assert.doesNotMatch(await page.locator("main form").innerText(), /chips under the carrier/);
  noMisdeeds();
});

test("a double tap takes over once, and so does the same form sent again", async (t) => {
  const page = await open(t, { role: "inspector" });
  await page.goto("/handover");
  const form = {
    key: await page.locator('input[name="key"]').inputValue(),
    read: await page.locator('input[name="read"]').inputValue(),
    note: "",
  };
  const count = async () => (await api("inspector", "/v1/handovers?limit=200")).body.items.length;
  const before = await count();
  await page.dblclick(".button.main");
  await page.waitForURL((url) => url.pathname.startsWith("/handover/"));
  assert.equal(await count(), before + 1);
  const origin = new URL(page.url()).origin;
  const again = await page.request.post("/handover", { headers: { Origin: origin }, form, maxRedirects: 0 });
  assert.equal(again.status(), 303);
  assert.equal(new URL(again.headers().location, origin).pathname, new URL(page.url()).pathname);
  assert.equal(await count(), before + 1);
});

test("a note that cannot be is told beside its field", async (t) => {
  const page = await open(t, { role: "setter" });
  await page.goto("/handover");
  await page.fill("#note", "x".repeat(1001));
  await page.click(".button.main");
  await page.waitForSelector("#errors");
  assert.equal(await page.locator("#errors a").getAttribute("href"), "#note");
  assert.match(await page.locator("#note-fault").innerText(), /1000 characters/);
  assert.equal((await page.inputValue("#note")).length, 1001);
});
