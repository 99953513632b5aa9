// The second language: every page in German, whole, and in its place.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";
import { api, located, noMisdeeds, open, scan } from "./harness.js";
import * as looks from "./looks.js";
import { pages } from "./pages.js";

/** @param {string} tag */
const wording = (tag) => JSON.parse(readFileSync(new URL(`../../api/wording/${tag}.json`, import.meta.url), "utf8"));
const [english, german] = [wording("en"), wording("de")];
const LEAST = { floor: { height: 64, gap: 16, main: 120 }, office: { height: 44, gap: 0, main: 44 } };

/** The parts of a phrase between its slots that are words of their own. @param {string} phrase */
function literals(phrase) {
  return phrase.split(/\{\w+\}/).map((part) => part.trim()).filter((part) => /[A-Za-z]{3}/.test(part));
}

/**
 * Every phrase of a wording file with its place, but for what the program's own sentences become.
 * @param {any} words
 * @param {string} [place]
 * @returns {[string, string][]}
 */
function phrases(words, place = "") {
  return Object.entries(words)
    .filter(([name]) => place !== "" || name !== "told")
    .flatMap(([name, phrase]) =>
      typeof phrase === "string" ? [[`${place}/${name}`, phrase]] : phrases(phrase, `${place}/${name}`),
    );
}

/** English phrases that are others in German: those that stand alone, and parts of sentences that are surely English. */
function englishWords() {
  const alone = new Set();
  const within = new Set();
  const here = new Map(phrases(german));
  for (const [name, phrase] of phrases(english)) {
    if (here.get(name) === phrase) continue;
    alone.add(phrase);
    for (const part of literals(phrase)) if (part.split(/\s+/).length > 2) within.add(part);
  }
  // A word that German has too, whatever it means there, shows nothing.
  for (const phrase of here.values()) alone.delete(phrase);
  for (const pattern of Object.keys(german.told.sentences)) {
    for (const part of literals(pattern)) if (part.split(/\s+/).length > 2) within.add(part);
  }
  return { alone, within: [...within] };
}

/**
 * Everything that is said on a page, to eyes and ears.
 * @param {import("playwright-core").Page} page
 */
async function said(page) {
  return page.evaluate(() => {
    const texts = [];
    const walker = document.createTreeWalker(document.documentElement, NodeFilter.SHOW_TEXT);
    for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
      const parent = node.parentElement;
      if (parent === null || ["SCRIPT", "STYLE"].includes(parent.tagName) || parent.closest("[lang]:not(html), [translate=no]")) continue;
      texts.push((node.textContent ?? "").replace(/\s+/g, " ").trim());
    }
    for (const element of document.querySelectorAll("*")) {
      for (const attribute of element.attributes) {
        if (/^aria-label$|^title$|^alt$|^placeholder$|^data-(mine|others|sign-in|no-answer|not-sent|read)$/.test(attribute.name)) {
          texts.push(attribute.value.trim());
        }
      }
    }
    return texts.filter((text) => text !== "");
  });
}

const { alone, within } = englishWords();

const rules = (await api("clerk", "/v1/rules")).body;
const rulesSay = (rules.items ?? rules.rules ?? rules).flatMap((/** @type {any} */ rule) => [rule.says, rule.clears]);

test("the rules of the program are known to this test", () => {
  assert.ok(rulesSay.length > 150 && rulesSay.every((/** @type {any} */ words) => typeof words === "string"));
});

for (const { path, density, role } of pages) {
  test(`${path} for ${role || "nobody"} is German all over, and holds at 320`, async (t) => {
    const page = await open(t, { role, locale: "de-DE", width: 320, height: 740 });
    await page.goto(await located(path));
    assert.equal(await page.getAttribute("html", "lang"), "de");
    const left = (await said(page)).filter(
      (text) =>
        alone.has(text) ||
        within.some((part) => text.includes(part)) ||
        rulesSay.some((/** @type {string} */ words) => text.includes(words)),
    );
    assert.deepEqual(left, []);
    assert.equal(await page.evaluate(() => document.scrollingElement?.scrollWidth), 320);
    await page.setViewportSize({ width: 360, height: 740 });
    const least = LEAST[density];
    assert.deepEqual(await page.evaluate(looks.mainAction, { height: least.main, full: density === "floor" }), []);
    assert.deepEqual(await page.evaluate(looks.hardToHit, { height: least.height, gap: least.gap }), []);
    noMisdeeds();
  });
}

test("a refusal at the counter is told in German, with its facts", async (t) => {
  const page = await open(t, { role: "clerk", locale: "de-DE" });
  await page.goto("/counter");
  await scan(page, "setter");
  await page.locator("#said").filter({ hasText: "Sam Okoro" }).waitFor();
  await scan(page, "NO-SUCH-THING");
  await page.locator(".refusals").waitFor();
  const words = (await page.locator("#said").textContent()) ?? "";
  assert.match(words, /NO-SUCH-THING/);
  assert.match(words, /Was es behebt: Den Code am Gegenstand selbst scannen oder ihn aufnehmen lassen\./);
  assert.doesNotMatch(words, /must be|on record/);
});

test("faults of a form are told in German", async (t) => {
  const page = await open(t, { role: "setter", locale: "de-DE" });
  await page.goto("/work-orders/new");
  await page.click(".button.main");
  assert.match(await page.title(), /^Fehler: /);
  assert.match((await page.locator("#errors").textContent()) ?? "", /darf nicht leer sein/);
});

test("whoever chooses German at the screen keeps it, decimals and days with it", async (t) => {
  const page = await open(t, { role: "administrator" });
  await page.goto("/sign-in?return=/settings");
  await page.click(".settings summary");
  await page.selectOption("#language", "de");
  await page.selectOption("#mark", "comma");
  await page.click(".settings button");
  await page.goto("/settings");
  assert.equal(await page.getAttribute("html", "lang"), "de");
  assert.equal(await page.inputValue("#limit"), "0,002");
  noMisdeeds();
});
