// What a form says when it is not taken as it was typed, on whichever page it stands.

import assert from "node:assert/strict";

/**
 * The title says so first; the summary has the focus and a link to each field, where the same words stand; what was typed is
 * kept.
 * @param {import("playwright-core").Page} page
 * @param {string[]} fields the ids of those that do not read, in their order
 * @param {Record<string, string>} [typed] what was typed, by the id of its box
 */
export async function tellsFaults(page, fields, typed = {}) {
  await page.locator("#errors:focus").waitFor({ timeout: 5000 });
  assert.match(await page.title(), /^Error: /);
  const links = page.locator("#errors a");
  const leads = await links.evaluateAll((all) => all.map((link) => link.getAttribute("href")));
  assert.deepEqual(leads, fields.map((field) => `#${field}`));
  for (const [index, field] of fields.entries()) {
    const words = (await links.nth(index).innerText()).trim();
    assert.ok(words.length > 3, field);
    assert.equal((await page.locator(`#${field}-fault`).innerText()).trim(), words, "the same words");
    // Beside it: in one group with its box.
    const place = page.locator(`#${field}`);
    const near = await place.evaluate((box, id) => (box.closest("fieldset, .field") ?? box).querySelector(`#${id}-fault`) !== null, field);
    assert.ok(near, `the words for ${field} stand elsewhere`);
    if (await place.evaluate((box) => box instanceof HTMLInputElement)) {
      assert.equal(await place.getAttribute("aria-invalid"), "true", field);
      assert.ok((await place.getAttribute("aria-describedby"))?.split(" ").includes(`${field}-fault`), field);
    }
    await links.nth(index).click();
    const there = () => place.evaluate((box) => box.contains(document.activeElement));
    // Several boxes under one name take no focus themselves everywhere: then it is the first of them that comes next.
    if (!(await there())) await page.keyboard.press("Tab");
    assert.equal(await there(), true, `the link leads to ${field}`);
    assert.equal(new URL(page.url()).hash, `#${field}`);
  }
  for (const [box, value] of Object.entries(typed)) assert.equal(await page.inputValue(`#${box}`), value, "what was typed is kept");
}
