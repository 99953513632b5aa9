// Signing in, changing the person at a shared screen, and what goes wrong on the way.

import assert from "node:assert/strict";
import test from "node:test";
import { address, noMisdeeds, open, scan, secret, signIn } from "./harness.js";

test("whoever is not signed in is led to sign in and back", async (t) => {
  const page = await open(t);
  await page.goto("/items/FT-001");
  assert.equal(new URL(page.url()).pathname, "/sign-in");
  await page.fill("#badge", "setter");
  await page.fill("#secret", secret);
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname === "/items/FT-001");
  noMisdeeds();
});

test("a badge is scanned wherever the focus is, and then the secret is typed", async (t) => {
  const page = await open(t);
  await page.goto("/sign-in");
  await page.locator("h1").click();
  await scan(page, "setter");
  assert.equal(await page.inputValue("#badge"), "setter");
  assert.equal(await page.evaluate(() => document.activeElement?.id), "secret");
  await page.keyboard.type(secret, { delay: 60 });
  await page.waitForTimeout(60);
  await page.keyboard.press("Enter");
  await page.waitForURL((url) => url.pathname === "/");
  noMisdeeds();
});

test("errors are told in the title, in a summary with the focus, and beside each field; what was typed is kept", async (t) => {
  for (const scripts of [true, false]) {
    const page = await open(t, { scripts });
    await page.goto("/sign-in");
    await page.fill("#badge", "setter");
    await page.click(".button.main");
    await page.waitForSelector("#errors");
    assert.match(await page.title(), /^Error: /);
    assert.equal(await page.inputValue("#badge"), "setter");
    const summary = page.locator("#errors a");
    assert.equal(await summary.count(), 1);
    assert.equal(await summary.getAttribute("href"), "#secret");
    assert.equal(await page.locator("#secret-fault").textContent(), await summary.textContent());
    assert.equal(await page.getAttribute("#secret", "aria-invalid"), "true");
    if (scripts) assert.equal(await page.evaluate(() => document.activeElement?.id), "errors");
  }
  noMisdeeds();
});

test("at a shared screen the next person signs in, and the page stays", async (t) => {
  const page = await open(t);
  await signIn(page, "clerk");
  await page.goto("/counter");
  await page.click(".places .person");
  await page.fill("#badge", "supervisor");
  await page.fill("#secret", secret);
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname === "/counter");
  assert.equal(await page.getAttribute("body", "data-badge"), "supervisor");
  noMisdeeds();
});

test("signing out ends the session, and not only the cookie", async (t) => {
  const page = await open(t);
  await signIn(page, "setter");
  const cookies = await page.context().cookies();
  const session = cookies.find((cookie) => cookie.name === "dovetally_session");
  assert.deepEqual([session?.httpOnly, session?.sameSite], [true, "Strict"]);
  await page.goto("/sign-in");
  await page.click("form[action='/sign-out'] button");
  await page.waitForURL((url) => url.pathname === "/sign-in");
  await page.context().addCookies(cookies);
  await page.goto("/counter");
  assert.equal(new URL(page.url()).pathname, "/sign-in");
});

test("nothing is taken from another site's page", async (t) => {
  const page = await open(t, { role: "clerk" });
  for (const origin of ["http://evil.example", "null"]) {
    const answer = await page.request.post(`${address}/counter/scans`, {
      headers: { Origin: origin, Accept: "text/html" },
      form: { code: "FT-001" },
    });
    assert.equal(answer.status(), 403, origin);
  }
});

test("the screen is as it was chosen", async (t) => {
  const page = await open(t);
  await page.goto("/sign-in");
  await page.click(".settings summary");
  await page.selectOption("#look", "dark");
  await page.selectOption("#mark", "comma");
  await page.fill("#prefix", "~");
  await page.click(".settings button");
  await page.waitForURL((url) => url.pathname === "/sign-in");
  assert.equal(await page.getAttribute("html", "data-look"), "dark");
  assert.equal(await page.getAttribute("#scan", "data-prefix"), "~");
  noMisdeeds();
});

test("how fast and how long a scan is are settings of the screen", async (t) => {
  const page = await open(t);
  await page.goto("/sign-in");
  const set = async (/** @type {string} */ gap, /** @type {string} */ fewest) => {
    await page.click(".settings summary");
    await page.fill("#gap", gap);
    await page.fill("#fewest", fewest);
    await Promise.all([page.waitForEvent("load"), page.click(".settings button")]);
  };
  // What the page takes for a scan comes into the badge's field.
  const taken = async (/** @type {string} */ code, /** @type {number} */ gap) => {
    await page.fill("#badge", "");
    await page.locator("h1").click();
    await scan(page, code, gap);
    return page.inputValue("#badge");
  };
  assert.deepEqual([await taken("setter", 60), await taken("set", 5), await taken("setter", 5)], ["", "", "setter"]);
  await set("80", "4");
  assert.deepEqual([await taken("setter", 60), await taken("set", 60), await taken("setter", 120)], ["setter", "", ""]);
  await set("35", "3");
  assert.deepEqual([await taken("set", 5), await taken("set", 60)], ["set", ""]);
  await set("35", "8");
  assert.equal(await taken("setter", 5), "");
  noMisdeeds();
});
