// The rules that hold for every page, over the table of pages.

import assert from "node:assert/strict";
import test from "node:test";
import { axe, located, noMisdeeds, open, recordsNow, shopAddress } from "./harness.js";
import * as looks from "./looks.js";
import { pages } from "./pages.js";

const LEAST = {
  floor: { text: 7, marks: 3, height: 64, gap: 16, main: 120 },
  office: { text: 4.5, marks: 3, height: 44, gap: 0, main: 44 },
};

for (const { path: written, density, role, status, chart } of pages) {
  const least = LEAST[density];

  // Under a name as a shop's network has it, over plain HTTP: whatever needs a secure context would fail here.
  test(`${written} for ${role || "nobody"}: read, hit, light and dark, as narrow as it gets`, async (t) => {
    const page = await open(t, { role, base: shopAddress, scheme: "light", width: 360, height: 740 });
    const path = await located(written);
    await page.goto(path);
    assert.equal(await page.evaluate(() => window.isSecureContext), false);
    assert.equal(new URL(page.url()).pathname, new URL(path, shopAddress).pathname);
    assert.equal(await page.locator("body").getAttribute("class"), density);
    // Of an address that leads nowhere nobody is asked who they are.
    if (role !== "" && status === undefined) {
      assert.equal(await page.locator("#scan-code").isVisible(), true, "a box that takes a scan");
    }
    const full = density === "floor";
    assert.deepEqual(await page.evaluate(looks.mainAction, { height: least.main, full }), []);
    assert.deepEqual(await page.evaluate(looks.hardToHit, { height: least.height, gap: least.gap }), []);
    assert.deepEqual(await page.evaluate(looks.wordless), []);
    assert.deepEqual(await page.evaluate(looks.bareCharts, chart === true), []);
    assert.deepEqual(await page.evaluate(looks.strayHazards), []);
    for (const scheme of /** @type {const} */ (["light", "dark"])) {
      await page.emulateMedia({ colorScheme: scheme });
      assert.deepEqual(await axe(page), [], scheme);
      assert.deepEqual(await page.evaluate(looks.weakContrast, { text: least.text, marks: least.marks }), [], scheme);
    }
    await page.setViewportSize({ width: 320, height: 640 });
    assert.equal(await page.evaluate(() => document.scrollingElement?.scrollWidth), 320, "nothing to scroll sideways for");
    noMisdeeds();
  });
}

test("looking changes nothing", async (t) => {
  const before = await recordsNow();
  for (const { path: written, role, status } of pages) {
    const path = await located(written);
    const page = await open(t, { role });
    const answer = await page.goto(path);
    // What was not there to look at would change nothing either.
    if (status === undefined) assert.ok(answer !== null && answer.status() < 400, `${path}: ${answer?.status()}`);
    else assert.equal(answer?.status(), status, path);
    assert.equal(new URL(page.url()).pathname, new URL(path, page.url()).pathname);
    await page.request.get(path, { headers: { Accept: "application/json" } });
  }
  assert.equal(await recordsNow(), before);
});
