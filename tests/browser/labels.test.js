// Labels: choosing what to label, and what comes out of the printer, read by a decoder that shares no code with the program.

import assert from "node:assert/strict";
import test from "node:test";
import { noMisdeeds, open, recordsNow, scan } from "./harness.js";
import { dotsOf, read, symbolsOf } from "./print.js";

const MILLIMETRE = 96 / 25.4;
const DOTS_AN_INCH = 203;

/** @param {import("node:test").TestContext} t @param {object} [wishes] */
async function labels(t, wishes) {
  const page = await open(t, { role: "clerk", width: 1280, height: 900, ...wishes });
  await page.goto("/labels");
  return page;
}

/** What is chosen. @param {import("playwright-core").Page} page */
async function chosen(page) {
  return (await page.locator("#size input[name=chosen]").inputValue()).split(",");
}

test("scans and searches choose what is labelled, and nothing is recorded", async (t) => {
  const before = await recordsNow();
  const page = await labels(t);
  await scan(page, "FT-001");
  await page.locator(".sheet").waitFor();
  await scan(page, "BIN-A1");
  await page.waitForURL(/BIN-A1/);
  await page.fill("#scan-code", "Centre gauge");
  await page.click("#scan button");
  await page.check("input[value=CG-102]");
  await page.click(".picks ~ p button, form:has(.picks) button[type=submit]");
  await page.waitForURL(/pick=CG-102/);
  assert.deepEqual(await chosen(page), ["FT-001", "BIN-A1", "CG-102"]);
  await page.click("details:has(.dropped) summary");
  await page.click("button[value=BIN-A1]");
  assert.deepEqual(await chosen(page), ["FT-001", "CG-102"]);
  assert.equal(await page.locator(".sheet").count(), 1);
  assert.equal(await recordsNow(), before);
  noMisdeeds();
});

test("everything new is chosen at once, and without scripts too", async (t) => {
  const page = await labels(t, { scripts: false });
  await page.click("button[value=new]");
  const all = await chosen(page);
  assert.ok(all.includes("FT-001") && all.includes("CG-103") && all.includes("HD-01"), all.join(" "));
  await page.selectOption("#kind", "shelf-strip");
  await page.click("#size button");
  assert.ok((await page.locator(".sheet").count()) > 1);
  await page.goto("/labels");
  await page.click("button[value=places]");
  assert.ok((await chosen(page)).includes("BIN-G1"));
  noMisdeeds();
});

test("what cannot have a label is said", async (t) => {
  const page = await labels(t);
  for (const [typed, words] of [
    ["TD-11", /TD-11 is on record, but/],
    ["no-such-thing", /Nothing on record has/],
  ]) {
    await page.fill("#scan-code", /** @type {string} */ (typed));
    await page.click("#scan .button.main");
    assert.match((await page.locator(".said").textContent()) ?? "", /** @type {RegExp} */ (words));
  }
  await page.goto("/labels?chosen=HD-01,FT-001&kind=traveller");
  assert.match((await page.locator("section ul").textContent()) ?? "", /HD-01 has no traveller/);
  assert.equal(await page.locator(".sheet").count(), 1);
  const traveller = (await page.locator(".sheet svg").textContent()) ?? "";
  assert.match(traveller, /FT-001.*Grind to a height of: /);
});

test("the printed page is as large as the paper, with nothing but the sheets", async (t) => {
  const page = await labels(t);
  for (const [paper, kind, width, height] of /** @type {const} */ ([
    ["a4", "gauge-tag", 210, 297],
    ["letter", "tool-tag", 215.9, 279.4],
    ["each", "bin-label", 90, 40],
  ])) {
    await page.goto(`/labels?chosen=CG-101,CG-102,BIN-A1&kind=${kind}&paper=${paper}`);
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString("latin1");
    const boxes = [...pdf.matchAll(/\/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]/g)];
    assert.equal(boxes.length, paper === "each" ? 3 : 1, `${paper}: ${boxes.length} pages`);
    for (const box of boxes) {
      // Browsers round a page to whole points or pixels.
      assert.ok(Math.abs((Number(box[1]) / 72) * 25.4 - width) < 0.4, `${paper}: ${box[1]} points wide`);
      assert.ok(Math.abs((Number(box[2]) / 72) * 25.4 - height) < 0.4, `${paper}: ${box[2]} points high`);
    }
    await page.emulateMedia({ media: "print" });
    const seen = await page.evaluate(() =>
      Array.from(document.querySelectorAll("body *")).filter((element) => {
        const box = element.getBoundingClientRect();
        return box.width > 1 && box.height > 1 && !element.closest(".sheets") && !element.querySelector(".sheets");
      }).length,
    );
    assert.equal(seen, 0, "something else than the sheets is printed");
    await page.emulateMedia({ media: null });
  }
});

test("every printed symbol is read at 100 % and at 80 %, of the stated size, with its quiet zone", async (t) => {
  const codes = { "tool-tag": ["FT-001", "HD-01"], "gauge-tag": ["CG-101"], "bin-label": ["BIN-A1", "SUP-GREASE"], traveller: ["FT-002"], "shelf-strip": ["SHELF-1"] };
  const prints = [];
  for (const percent of [100, 80]) {
    // At 80 % a printer has fewer dots for the same page.
    const dots = (DOTS_AN_INCH / 96) * (percent / 100);
    const page = await open(t, { role: "clerk", width: 794, height: 1123, dots });
    for (const [kind, things] of Object.entries(codes)) {
      await page.goto(`/labels?chosen=${things.join(",")}&kind=${kind}&paper=a4`);
      await page.emulateMedia({ media: "print" });
      const sheet = await page.locator(".sheet svg").boundingBox();
      assert.ok(sheet !== null && Math.abs(sheet.width - 210 * MILLIMETRE) < 0.1, `${kind}: ${sheet?.width}`);
      assert.ok(Math.abs(sheet.height - 297 * MILLIMETRE) < 0.1, `${kind}: ${sheet.height}`);
      const symbols = await symbolsOf(page, kind === "tool-tag" ? "DataMatrix" : "QRCode");
      const each = kind === "bin-label" || kind === "traveller" ? 2 : 1;
      assert.equal(symbols.length, things.length * each, kind);
      const areas = symbols.map(({ format, module, zone, within }, index) => {
        assert.deepEqual(within, [], `${kind}: something stands in the quiet zone`);
        const least = format === "DataMatrix" ? 0.4 : 0.38;
        assert.ok(module / MILLIMETRE >= least - 0.001, `${kind}: modules of ${module / MILLIMETRE} mm`);
        const area = [zone.x, zone.y, zone.width, zone.height].map((length) => length * dots);
        return { format, text: things[Math.floor(index / each)] ?? "", area };
      });
      const print = dotsOf(await page.screenshot({ fullPage: true, animations: "disabled" }));
      prints.push({ as: `the page at ${percent} %`, print, symbols: areas });
    }
  }
  const { sound, words } = read(prints, 6);
  assert.ok(sound, words);
  noMisdeeds();
});
