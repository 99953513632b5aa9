// The gauge question: one large verdict, and "Not checked" whenever it is not known to hold.

import assert from "node:assert/strict";
import test from "node:test";
import { api, noMisdeeds, open, recordsNow, scan } from "./harness.js";

const VERDICTS = { right: "Right gauge", wrong: "Wrong gauge – stop", not_usable: "Do not use this gauge" };

/** @param {import("node:test").TestContext} t @param {object} [wishes] */
async function question(t, wishes) {
  const page = await open(t, { role: "setter", ...wishes });
  await page.goto("/machines/M-101/gauge");
  return page;
}

/** @param {import("playwright-core").Page} page */
async function verdict(page) {
  return (await page.locator("#verdict .word").innerText()).trim();
}

/** @param {import("playwright-core").Page} page @param {string} words @param {number} [timeout] */
async function says(page, words, timeout = 5000) {
  await page.locator("#verdict .word").filter({ hasText: words }).waitFor({ timeout });
}

test("each verdict is the API's, large, with machine, gauge and reason", async (t) => {
  const before = await recordsNow();
  for (const scripts of [true, false]) {
    const page = await question(t, { scripts });
    assert.equal(await verdict(page), "Not checked");
    for (const gauge of ["CG-101", "CG-102", "CG-103", "CG-104", "FT-001", "NOTHING"]) {
      const { body: answer } = await api("setter", `/v1/machines/M-101/gauge-check?gauge=${gauge}`);
      if (scripts) {
        await scan(page, gauge);
      } else {
        await page.fill("#scan-code", gauge);
        await page.click(".button.main");
      }
      const wanted = VERDICTS[/** @type {keyof typeof VERDICTS} */ (answer.verdict)];
      await page.locator("#answer").filter({ hasText: gauge }).filter({ hasText: wanted }).waitFor({ timeout: 5000 });
      assert.equal(await verdict(page), wanted);
      const height = await page.locator("#verdict .word").evaluate((word) => parseFloat(getComputedStyle(word).fontSize));
      assert.ok(height >= 48, `${height} px`);
      const text = await page.locator("#answer").innerText();
      assert.match(text, /Machine M-101/);
      for (const { sentence } of answer.refusals) {
        // Days are shown as the reader writes them.
        assert.ok(text.includes(sentence.replaceAll(/\b(\d{4})-(\d\d)-(\d\d)\b/g, "$2/$3/$1")), text);
      }
      if (answer.verdict === "right") assert.match(text, /nothing on record speaks against it/);
    }
  }
  assert.equal(await recordsNow(), before, "a question changes nothing");
  noMisdeeds();
});

test("a verdict is there within 300 ms, without loading the page anew", async (t) => {
  const page = await question(t);
  await page.evaluate(() => document.body.setAttribute("data-same", "true"));
  await scan(page, "CG-101");
  await says(page, "Right gauge");
  await page.evaluate(() => {
    const answer = /** @type {HTMLElement} */ (document.getElementById("answer"));
    const state = /** @type {any} */ (window);
    document.getElementById("scan")?.addEventListener("submit", () => (state.began = performance.now()));
    new MutationObserver(() => {
      if (answer.textContent?.includes("Wrong gauge")) state.took ??= performance.now() - state.began;
    }).observe(answer, { childList: true, subtree: true });
  });
  await scan(page, "CG-102");
  await says(page, "Wrong gauge");
  const took = await page.evaluate(() => /** @type {any} */ (window).took);
  assert.ok(took < 300, `${took} ms`);
  assert.equal(await page.locator("body").getAttribute("data-same"), "true");
  noMisdeeds();
});

test("without a network, and with a slow server, an old verdict is gone at once", async (t) => {
  const page = await question(t);
  await scan(page, "CG-101");
  await says(page, "Right gauge");
  await page.route("**/gauge?**", (route) => route.abort());
  await scan(page, "CG-101");
  await says(page, "Not checked", 1000);
  assert.match(await page.locator("#answer").innerText(), /No answer came/);
  await page.unroute("**/gauge?**");

  await scan(page, "CG-101");
  await says(page, "Right gauge");
  /** @type {(() => void)[]} */ const held = [];
  await page.route("**/gauge?**", async (route) => {
    await new Promise((resolve) => held.push(() => resolve(undefined)));
    await route.continue().catch(() => undefined);
  });
  await scan(page, "CG-101");
  await says(page, "Not checked", 1000);
  assert.match(await page.locator("#answer").innerText(), /Asking the records/);
  await page.locator("#answer").filter({ hasText: "No answer came" }).waitFor({ timeout: 6000 });
  for (const go of held) go();
  await page.waitForTimeout(500);
  assert.equal(await verdict(page), "Not checked", "an answer that comes too late is none");
  noMisdeeds();
});

test("an answer to an older question is not shown for a newer one", async (t) => {
  const page = await question(t);
  /** @type {() => void} */ let release = () => undefined;
  await page.route("**/gauge?gauge=CG-101", async (route) => {
    await new Promise((resolve) => (release = () => resolve(undefined)));
    await route.continue().catch(() => undefined);
  });
  await scan(page, "CG-101");
  await says(page, "Not checked");
  await scan(page, "CG-102");
  await says(page, "Wrong gauge");
  release();
  await page.waitForTimeout(500);
  assert.equal(await verdict(page), "Wrong gauge – stop");
});

test("an error of the server, and nobody signed in, are not checked", async (t) => {
  const page = await question(t);
  await page.route("**/gauge?**", (route) => route.fulfill({ status: 500, body: "Right gauge" }));
  await scan(page, "CG-101");
  await page.locator("#answer").filter({ hasText: "No answer came" }).waitFor({ timeout: 2000 });
  assert.equal(await verdict(page), "Not checked");
  await page.unroute("**/gauge?**");
  await page.context().clearCookies();
  await scan(page, "CG-101");
  await page.locator("#answer").filter({ hasText: "Nobody is signed in" }).waitFor({ timeout: 2000 });
  assert.equal(await verdict(page), "Not checked");
});

test("a verdict that has stood for a while is not checked any more", async (t) => {
  const page = await open(t, { role: "setter" });
  await page.clock.install();
  await page.goto("/machines/M-101/gauge");
  // Typed: the page's clock, which tells a scan, stands still.
  await page.fill("#scan-code", "CG-101");
  await page.click(".button.main");
  await says(page, "Right gauge");
  await page.clock.runFor(50000);
  assert.equal(await verdict(page), "Right gauge");
  await page.clock.runFor(15000);
  assert.equal(await verdict(page), "Not checked");
  assert.match(await page.locator("#answer").innerText(), /CG-101/);
  assert.match(await page.locator("#answer").innerText(), /may no longer hold/);
});

test("without scripts a verdict is taken off the screen by itself", async (t) => {
  const page = await question(t, { scripts: false });
  await page.fill("#scan-code", "CG-101");
  await page.click(".button.main");
  await says(page, "Right gauge");
  const refresh = await page.locator('head noscript meta[http-equiv="refresh"], head meta[http-equiv="refresh"]').getAttribute("content");
  assert.equal(refresh, "60;url=/machines/M-101/gauge");
});

test("pages on which a hand goes into the machine warn, and leave lockout to the local rules", async (t) => {
  const page = await question(t);
  assert.match(await page.locator(".hazard.warning").innerText(), /WARNING.*local rules/s);
});
