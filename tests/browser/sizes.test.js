// Sizes at the machine, and their charts.

import assert from "node:assert/strict";
import test, { before } from "node:test";
import { tellsFaults } from "./faults.js";
import { address, api, noMisdeeds, open } from "./harness.js";
import { Measured, holds, inch, keep, type } from "./measuring.js";
import { saysWhatBlocks } from "./walking.js";

const shop = new Measured("190");
before(() => shop.prepare());

/** @param {import("node:test").TestContext} t @param {object} [wishes] */
const setter = (t, wishes) => open(t, { role: "setter", ...wishes });

test("before the machine turns no size is read, and the page says why", async (t) => {
  const page = await setter(t);
  await page.goto(`/setups/${shop.setup}/sizes`);
  await page.locator(".hindered").getByText("Trial cutting has not begun").waitFor();
  await saysWhatBlocks(page, shop.setup);
  assert.equal(await page.locator("#value").count(), 0);
  assert.equal(await page.getAttribute(".button.main", "href"), `/setups/${shop.setup}`);
  await shop.beginTrial();
  await page.reload();
  assert.equal(await page.locator("#value").count(), 1);
  noMisdeeds();
});

test("a size is typed with a point or a comma, told back, and only then kept", async (t) => {
  const page = await setter(t);
  for (const [text, feature] of [
    ["0,5005", "D1"],
    ["0.5005", "D1"],
  ]) {
    await shop.sizes(page, "S1", feature, 1);
    assert.equal(await page.getAttribute("#value", "inputmode"), "decimal");
    assert.equal(await page.getAttribute("#value", "type"), "text");
    await saysWhatBlocks(page, shop.setup);
    const before = (await shop.events()).length;
    await type(page, text);
    await page.getByText("You read 0.5005 in, which is 12.7127 mm.").waitFor();
    assert.equal((await shop.events()).length, before, "nothing is kept before it was told back");
    await holds(page);
    await saysWhatBlocks(page, shop.setup);
    await keep(page);
    await page.waitForURL((url) => !url.search.includes("feature=D1"));
    const last = await shop.last();
    const { kind, piece: kept, spindle, readings } = last;
    assert.deepEqual([kind, kept, spindle], ["sizes_read", shop.piece, 1], JSON.stringify(last));
    assert.deepEqual(readings, [{ feature: "D1", value: inch(0.5005) }]);
  }
  noMisdeeds();
});

test("what does not read is kept as it was typed, with words at its field", async (t) => {
  const page = await setter(t);
  const before = (await shop.events()).length;
  for (const [text, words] of [
    ["1,234.5", /One point or comma at the most/],
    ["-0.5", /without a sign/],
    ["", /Type what you read/],
    ["half", /Only digits/],
    ["0", /above zero/],
  ]) {
    await shop.sizes(page, "S1", "D1", 1);
    const [answer] = await Promise.all([page.waitForNavigation(), type(page, String(text))]);
    assert.equal(answer?.status(), 422);
    assert.match((await page.textContent("#value-fault")) ?? "", /** @type {RegExp} */ (words));
    await tellsFaults(page, ["value"], { value: String(text) });
  }
  await page.fill("#value", "0.5");
  await page.fill("#piece", "none");
  await page.click(".button.main");
  await page.locator("#piece-fault").waitFor();
  assert.equal(await page.inputValue("#piece"), "none");
  await page.evaluate(() => window.scrollTo(0, 0));
  await holds(page);
  assert.equal((await shop.events()).length, before);
});

test("a size that fits the other unit, or is far off, is asked about again", async (t) => {
  const page = await setter(t);
  await shop.sizes(page, "S1", "D1", 2);
  const before = (await shop.events()).length;
  await type(page, "12.7");
  await page.getByText("if it were in the other unit").waitFor();
  await holds(page);
  // What comes first is to look again; keeping it takes another button.
  assert.equal(await page.textContent(".button.main"), "Change it");
  await page.click(".button.main");
  assert.equal(await page.inputValue("#value"), "12.7");
  await type(page, "12.7");
  await page.click("text=It was 12.7 mm: keep that");
  await page.waitForURL((url) => !url.search.includes("spindle=2") || !url.search.includes("feature=D1"));
  const last = await shop.last();
  assert.deepEqual(last.readings, [{ feature: "D1", value: { value: 12.7, unit: "mm" } }]);
  await shop.sizes(page, "S1", "D1", 3);
  await type(page, "0.6");
  await page.getByText("That is far from 0.5 in").waitFor();
  assert.equal((await shop.events()).length, before + 1);
});

test("a box begins in the unit of the screen, and changes to the other by a tap", async (t) => {
  const page = await setter(t);
  await shop.sizes(page, "S1", "D1", 2);
  assert.equal(await page.textContent(".measured .unit"), "in");
  await page.click("text=Read in millimetre");
  assert.equal(await page.textContent(".measured .unit"), "mm");
  await page.locator(".wanted", { hasText: "Wanted 12.7 mm" }).waitFor();
  await holds(page);
  await type(page, "12,71");
  await page.getByText("You read 12.71 mm, which is 0.50039 in.").waitFor();
  assert.equal(await page.locator(".fault").count(), 0);
  await page.context().addCookies([{ name: "dovetally_preferences", value: "unit:mm", url: address }]);
  await shop.sizes(page, "S1", "D1", 2);
  assert.equal(await page.textContent(".measured .unit"), "mm");
  noMisdeeds();
});

test("decimals follow the settings", async (t) => {
  const page = await setter(t);
  await page.context().addCookies([{ name: "dovetally_preferences", value: "mark:comma", url: address }]);
  await shop.sizes(page, "S1", "D1", 3);
  await type(page, "0,5001");
  await page.getByText("You read 0,5001 in, which is 12,7025 mm.").waitFor();
});

test("the diameters of one form are read one after the other and kept together", async (t) => {
  const page = await setter(t);
  await shop.sizes(page, "S3", "D3", 1);
  const before = (await shop.events()).length;
  await type(page, "0.4001");
  await keep(page);
  await page.waitForURL((url) => url.searchParams.get("feature") === "D4");
  assert.equal((await shop.events()).length, before);
  await page.getByText("D3: 0.4001 in").waitFor();
  await holds(page);
  await type(page, "0.7001");
  await keep(page);
  await page.waitForURL((url) => url.searchParams.get("feature") !== "D4");
  const last = await shop.last();
  const { readings } = last;
  assert.deepEqual(readings.map((/** @type {any} */ reading) => reading.feature), ["D3", "D4"]);
});

test("the next feature is that of the same piece, then the next spindle's", async (t) => {
  const page = await setter(t);
  await shop.sizes(page, "S1", "D1", 4);
  await type(page, "0.5001");
  await keep(page);
  await page.waitForURL((url) => url.searchParams.get("station") === "S2");
  const at = new URL(page.url()).searchParams;
  assert.deepEqual([at.get("spindle"), at.get("piece")], ["4", String(shop.piece)]);
  await page.getByText(`Kept: D1 0.5001 in, spindle 4, piece ${shop.piece}.`).waitFor();
});

test("who records no setup looks on", async (t) => {
  const page = await open(t, { role: "clerk" });
  await page.goto(`/setups/${shop.setup}/sizes?station=S1`);
  await page.getByText("Sizes are read by setters").waitFor();
  assert.equal(await page.locator("#value").count(), 0);
});

test("everything works without scripts", async (t) => {
  const page = await setter(t, { scripts: false });
  await shop.sizes(page, "S2", "D2", 4);
  await type(page, "0,6001");
  await keep(page);
  const last = await shop.last();
  assert.deepEqual(last.readings, [{ feature: "D2", value: inch(0.6001) }]);
});

test("charts tell the sizes in words and numbers, by the reader's clock", async (t) => {
  const page = await setter(t);
  await page.goto(`/setups/${shop.setup}/charts`);
  const wear = (await api("setter", `/v1/setups/${shop.setup}/wear`)).body;
  const drawn = wear.stations.flatMap((/** @type {any} */ found) => found.features);
  assert.equal(await page.locator("figure.charted").count(), drawn.length + 1);
  for (const figure of await page.locator("figure.charted").all()) {
    assert.ok(((await figure.locator("figcaption").textContent()) ?? "").length > 10);
    assert.equal(await figure.locator("svg").filter({ visible: true }).count(), 1);
    const inNumbers = figure.locator(":scope > details");
    await inNumbers.locator(":scope > summary").click();
    const rows = inNumbers.locator(":scope > .table tbody tr");
    assert.ok((await rows.count()) > 0);
    // What stands in lengths stands in the other unit too, one tap away.
    const twin = inNumbers.locator("details");
    assert.equal(await twin.locator("tbody tr").first().isVisible(), false);
    await twin.locator("summary").click();
    assert.equal(await twin.locator("tbody tr").filter({ visible: true }).count(), await rows.count());
    const cells = [await rows.locator("td").allTextContents(), await twin.locator("tbody td").allTextContents()];
    const lengths = cells[0].map((cell, index) => [cell, cells[1][index]]).filter(([own, other]) => own !== other);
    assert.ok(lengths.length > 0, "there are lengths");
    for (const [own, other] of lengths) {
      assert.ok(Math.abs(Number.parseFloat(other) - Number.parseFloat(own) * 25.4) < 0.003, `${own} in, ${other} mm`);
    }
    assert.match(await twin.locator("table").innerText(), /\bmm\b/);
    assert.doesNotMatch(await twin.locator("table").innerText(), /\bin\b/);
    assert.equal(await figure.locator("[style]").count(), 0);
  }
  // From the second page on the server knows how the reader's clock goes.
  await page.reload();
  assert.doesNotMatch((await page.textContent("figure.charted:last-of-type table")) ?? "", /UTC/);
  noMisdeeds();
});
