// Centre heights: what was measured of a machine's spindle centres, read back, recorded, and shown on the machine's page.

import assert from "node:assert/strict";
import test, { before } from "node:test";
import { choose, read, send, texts } from "./desk.js";
import { tellsFaults } from "./faults.js";
import { api, noMisdeeds, open } from "./harness.js";
import { holds, inch } from "./measuring.js";

const MACHINE = "M-197";
const PAGE = `/machines/${MACHINE}/center-heights`;

before(async () => {
  const station = { code: "S1", position: 1, kind: "cross_slide", tool_face: "up", adjusters: [] };
  const { status, body } = await api("supervisor", "/v1/machines", {
    code: MACHINE,
    name: "Two-spindle, measured",
    spindles: 2,
    positions: 2,
    cutoff_position: 2,
    pieces_per_cycle: 1,
    spindle_rotation: "counterclockwise",
    center_height: { nominal: inch(3.75) },
    stations: [station],
  });
  assert.equal(status, 201, JSON.stringify(body));
});

/** @param {import("node:test").TestContext} t */
const maintainer = (t) => open(t, { role: "maintainer" });

/** What is on record, newest first. */
const heights = async () => (await read(`/v1${PAGE}`)).items;

/**
 * Types a measurement for which no work was done.
 * @param {import("playwright-core").Page} page
 * @param {string} height
 * @param {string} uncertainty
 */
async function fill(page, height, uncertainty) {
  await page.fill("#measured", height);
  await page.fill("#uncertainty", uncertainty);
  await page.fill("#reason", "Yearly measurement");
  await choose(page, "after_work", "no");
}

test("a height is read back, recorded, and seen on the machine's page", async (t) => {
  const page = await maintainer(t);
  await page.goto(`/machines/${MACHINE}`);
  await send(page, `a[href="${PAGE}"]`);
  const shown = await page.locator("main").innerText();
  assert.match(shown, /WARNING[\s\S]*secure it before you reach in/);
  assert.match(shown, /need a new check[\s\S]*By the builder:\s+3\.75 in[\s\S]*Never measured/);
  assert.equal(await page.locator('input[name="after_work"]:checked').count(), 0, "nobody takes it for granted");

  await fill(page, "3,7504", "0.0001");
  await page.fill("#spindle-1", "3.7502");
  await page.fill("#spindle-2", "3.7506");
  // The other unit, and back: what was typed stays.
  await send(page, 'button[value="unit"]');
  assert.deepEqual([...new Set(await texts(page, ".measured .unit"))], ["mm"]);
  assert.equal(await page.inputValue("#measured"), "3,7504");
  await send(page, 'button[value="unit"]');
  assert.deepEqual([...new Set(await texts(page, ".measured .unit"))], ["in"]);
  assert.equal(await page.isChecked('input[name="after_work"][value="no"]'), true);

  await send(page);
  const said = await page.locator("main").innerText();
  assert.match(said, /3\.7504 in, which is 95\.2602 mm/);
  assert.match(said, /Spindle 2[\s\S]*3\.7506 in[\s\S]*Yearly measurement[\s\S]*centre gauges need a new check/);
  assert.equal(await page.locator(".read-back .fault").count(), 0);
  await holds(page);
  assert.equal((await heights()).length, 0, "nothing is recorded before it was read back");

  await send(page);
  assert.equal(new URL(page.url()).pathname, `/machines/${MACHINE}`);
  const kept = (await heights())[0];
  assert.deepEqual([kept.measured, kept.standard_uncertainty], [inch(3.7504), inch(0.0001)]);
  assert.deepEqual([kept.reason, kept.after_work, kept.station], ["Yearly measurement", false, null]);
  assert.deepEqual(kept.spindles.map((/** @type {any} */ at) => at.measured), [inch(3.7502), inch(3.7506)]);
  assert.match(await page.locator("main").innerText(), /Measured last:\s+3\.7504 in/);

  // The next one stands beside it: the same again leaves the gauges as they are.
  await page.goto(PAGE);
  assert.match(await page.locator("#on-record").innerText(), /Measured last:\s+3\.7504 in/);
  assert.match(await page.locator("#spindles").innerText(), /whole machine: 3\.7502 in/);
  await fill(page, "3.7504", "0.0001");
  await send(page);
  assert.match(await page.locator("main").innerText(), /agrees with what is on record/);
  noMisdeeds();
});

test("a wrong unit or an odd height is asked back, and kept as it was typed", async (t) => {
  const page = await maintainer(t);
  const count = (await heights()).length;
  await page.goto(PAGE);
  await fill(page, "95.26", "0.002");
  await page.fill("#spindle-1", "95.255");
  await page.fill("#spindle-2", "95.265");
  await send(page);
  const doubts = await texts(page, ".read-back .fault");
  assert.equal(doubts.length, 4, "the uncertainty too is larger than any that is of use");
  assert.match(doubts[0], /would fit 3\.75 in if it were in the other unit/);
  await holds(page);

  // What comes first is to look again: nothing typed is lost, and the unit is changed by a tap.
  assert.equal(await page.locator(".button.main").innerText(), "Change it");
  await send(page);
  assert.deepEqual(
    [await page.inputValue("#measured"), await page.inputValue("#spindle-2"), await page.inputValue("#reason")],
    ["95.26", "95.265", "Yearly measurement"],
  );
  await send(page, 'button[value="unit"]');
  await send(page);
  assert.equal(await page.locator(".read-back .fault").count(), 0);
  assert.equal((await heights()).length, count);
  await send(page);
  assert.deepEqual((await heights())[0].measured, { value: 95.26, unit: "mm" });

  // So far off that it is asked after: kept by another button, it is confirmed.
  await page.goto(PAGE);
  await fill(page, "3.79", "0.0001");
  await send(page);
  assert.match((await texts(page, ".read-back .fault"))[0], /far from 3\.75 in/);
  assert.equal(await page.locator('input[name="confirmed"]').count(), 1);
  await send(page, 'button[value="keep"]');
  assert.equal(new URL(page.url()).pathname, `/machines/${MACHINE}`);
  assert.deepEqual((await heights())[0].measured, inch(3.79));
  noMisdeeds();
});

test("what does not read is kept as it was typed, with words at its field", async (t) => {
  const page = await maintainer(t);
  const count = (await heights()).length;
  for (const [text, words] of /** @type {[string, RegExp][]} */ ([
    ["1,234.5", /One point or comma at the most/],
    ["-3.75", /without a sign/],
    ["", /Type what you read/],
    ["half", /Only digits/],
    ["0", /above zero/],
  ])) {
    await page.goto(PAGE);
    await page.fill("#measured", text);
    await page.fill("#spindle-1", "3.75");
    const [answer] = await Promise.all([page.waitForNavigation(), page.click(".button.main")]);
    assert.equal(answer?.status(), 422);
    assert.match((await page.textContent("#measured-fault")) ?? "", words);
    const fields = ["measured", "uncertainty", "spindle-2", "after_work", "reason"];
    await tellsFaults(page, fields, { measured: text, "spindle-1": "3.75" });
  }
  await page.evaluate(() => window.scrollTo(0, 0));
  await holds(page);
  assert.equal((await heights()).length, count);
  noMisdeeds();
});

test("a station has a height of its own, and none from before the centres may have moved", async (t) => {
  const page = await maintainer(t);
  const first = { measured: inch(3.75), standard_uncertainty: inch(0.0001), reason: "slide scraped", after_work: true };
  const { status, body } = await api("maintainer", `/v1${PAGE}`, first);
  assert.equal(status, 201, JSON.stringify(body));
  await page.goto(PAGE);
  await fill(page, "3.75", "0.0001");
  await page.selectOption("#station", "S1");
  await page.selectOption("#ago", "60");
  await send(page);
  assert.match(await page.locator("main").innerText(), /Measured at station S1\.[\s\S]*an hour ago/);
  await send(page);
  assert.match((await page.textContent("#ago-fault")) ?? "", /before the spindle centres may have moved/);
  assert.deepEqual([await page.inputValue("#station"), await page.inputValue("#ago")], ["S1", "60"]);
  await page.selectOption("#ago", "0");
  await send(page);
  await send(page);
  assert.equal((await heights())[0].station, "S1");
  assert.match(await page.locator("main").innerText(), /Measured last at station S1:\s+3\.75 in/);
  noMisdeeds();
});

test("who may not record it is not led there", async (t) => {
  const page = await open(t, { role: "setter" });
  await page.goto(`/machines/${MACHINE}`);
  assert.equal(await page.locator(`a[href="${PAGE}"]`).count(), 0);
  const answer = await page.goto(PAGE);
  assert.equal(answer?.status(), 403);
});
