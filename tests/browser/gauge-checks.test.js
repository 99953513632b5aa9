// Checks of centre gauges, how they are decided and drawn, and what a gauge has touched.

import assert from "node:assert/strict";
import test from "node:test";
import { read, send, texts } from "./desk.js";
import { tellsFaults } from "./faults.js";
import { api, axe, noMisdeeds, open, scan } from "./harness.js";
import * as looks from "./looks.js";
import { inch } from "./measuring.js";

test("a gauge's check is read back, decided by its rule, and drawn", async (t) => {
  const page = await open(t, { role: "inspector" });
  await page.goto("/center-gauges/CG-104");
  assert.equal(await page.locator(".charted").count(), 0, "nothing to draw before the first check");
  await send(page);
  await page.fill("#as_found", "3,75,005");
  await page.fill("#as_left", "half");
  await page.fill("#certificate", "LAB-104");
  await send(page);
  const fields = ["as_found", "as_left", "uncertainty", "next_check"];
  await tellsFaults(page, fields, { as_found: "3,75,005", as_left: "half", certificate: "LAB-104" });
  await page.fill("#as_left", "");
  await page.fill("#as_found", "3,75005");
  await page.fill("#uncertainty", "0,00005");
  await page.fill("#next_check", inHalfAYear());
  await page.fill("#certificate", "LAB-104");
  await send(page);
  const said = await page.locator("main").innerText();
  assert.match(said, /3.75005 in, which is 95.2513 mm/);
  assert.match(said, /0.00005 in, which is 0.0013 mm/);
  assert.equal(await page.locator(".read-back .fault").count(), 0);
  await send(page);
  assert.equal(new URL(page.url()).pathname, "/center-gauges/CG-104");
  const { items } = await read("/v1/center-gauges/CG-104/checks");
  assert.deepEqual(items[0].as_found, { value: 3.75005, unit: "in" });
  assert.equal(items[0].decision.as_found.verdict, "accept");
  const shown = await page.locator("main").innerText();
  assert.match(shown, /As found:\s+accepted/);
  assert.match(shown, /guard band of 1.645 standard uncertainties, for 95 % conformance/);
  assert.equal(await page.locator(".for-phone .chart-point").count(), items.length);

  // Far from nominal, in the other unit, and beyond the plan.
  await send(page);
  await page.fill("#as_found", "95.25");
  await page.fill("#uncertainty", "0.05");
  await page.fill("#next_check", inHalfAYear());
  await send(page);
  const doubts = await texts(page, ".read-back .fault");
  assert.match(doubts[0], /would fit 3.75 in if it were in the other unit/);
  assert.equal(doubts.length, 2, "the uncertainty is wider than the limits");
  await send(page, 'button[value="change"]');
  assert.equal(await page.inputValue("#as_found"), "95.25");

  // Outside its limits: out of use, and what it touched is listed.
  await page.fill("#as_found", "3.7512");
  await page.fill("#as_left", "3.75");
  await page.fill("#uncertainty", "0.00005");
  await send(page);
  assert.equal(await page.locator(".read-back .fault").count(), 0);
  assert.equal(await page.locator('input[name="confirmed"]').count(), 0);
  // So far that it is asked after: kept, it is confirmed.
  await send(page, 'button[value="change"]');
  await page.fill("#as_found", "3.7572");
  await send(page);
  assert.deepEqual((await texts(page, ".read-back .fault")).length, 1);
  await send(page);
  assert.match(await page.locator("main").innerText(), /As found:\s+rejected[\s\S]*As left:\s+accepted/);
  const rejected = (await read("/v1/center-gauges/CG-104/checks")).items[0];
  await send(page, `a[href="/impacts/${rejected.impact}"]`);
  assert.match(await page.locator("h1").innerText(), /CG-104/);
  await page.fill("#closing", "It was in no machine");
  await send(page);
  assert.equal((await read(`/v1/impacts/${rejected.impact}`)).open, false);
  noMisdeeds();
});

function inHalfAYear() {
  return new Date(Date.now() + 180 * 86_400_000).toISOString().slice(0, 10);
}

test("a scan leaves a day and several lines as they were", async (t) => {
  const page = await open(t, { role: "inspector" });
  await page.goto("/center-gauges/CG-104/checks");
  // What was scanned is asked for, and nothing comes: the page stays.
  await page.route((url) => url.pathname === "/s", (route) => route.fulfill({ status: 204 }));
  const arrives = async (/** @type {string} */ code) => {
    const told = page.waitForRequest((request) => new URL(request.url()).pathname === "/s");
    await scan(page, code);
    assert.equal(new URL((await told).url()).searchParams.get("code"), code);
  };
  const day = page.locator("#next_check");
  for (const value of [inHalfAYear(), ""]) {
    await day.fill(value);
    await day.focus();
    await arrives("11223344");
    assert.equal(await day.inputValue(), value);
    const half = await day.evaluate((field) => /** @type {HTMLInputElement} */ (field).validity.badInput);
    assert.equal(half, false, "nor is a part of it typed");
  }
  await page.evaluate(() => {
    const lines = document.createElement("textarea");
    lines.id = "lines";
    lines.value = "two\nlines";
    document.getElementById("main")?.append(lines);
    lines.focus();
    lines.setSelectionRange(3, 3);
  });
  await arrives("FT-001");
  assert.equal(await page.inputValue("#lines"), "two\nlines");
  assert.equal(await page.evaluate(() => /** @type {any} */ (document.activeElement).selectionStart), 3);
  noMisdeeds();
});

test("a gauge whose machine's centres may have moved says so on its pages", async (t) => {
  const machine = {
    code: "M-196",
    name: "Six-spindle, worked on",
    spindles: 6,
    positions: 6,
    cutoff_position: 6,
    pieces_per_cycle: 1,
    spindle_rotation: "counterclockwise",
    center_height: { nominal: inch(3.75) },
    stations: [],
  };
  const limits = { lower: inch(-0.0003), upper: inch(0.0003) };
  const gauge = { code: "CG-196", name: "Gauge", machine: "M-196", nominal: inch(3.75), limits, place: "BIN-G1" };
  const check = { as_found: inch(3.75), standard_uncertainty: inch(0.00005), next_check: inHalfAYear() };
  const work = { measured: inch(3.75), standard_uncertainty: inch(0.0001), reason: "slide scraped", after_work: true };
  for (const [badge, path, body] of /** @type {[string, string, object][]} */ ([
    ["supervisor", "/v1/machines", machine],
    ["supervisor", "/v1/center-gauges", gauge],
    ["inspector", "/v1/center-gauges/CG-196/checks", check],
  ])) {
    const made = await api(badge, path, body);
    assert.equal(made.status, 201, JSON.stringify(made.body));
  }
  const page = await open(t, { role: "clerk" });
  const pages = ["/items/CG-196", "/center-gauges/CG-196"];
  for (const path of pages) {
    await page.goto(path);
    assert.equal(await page.locator("main .state").first().innerText(), "usable", path);
  }
  const measured = await api("maintainer", "/v1/machines/M-196/center-heights", work);
  assert.equal(measured.status, 201, JSON.stringify(measured.body));
  for (const path of pages) {
    await page.goto(path);
    assert.equal(await page.locator("main .state").first().innerText(), "needs a new check", path);
    const reason = await page.locator("main .refusals").innerText();
    assert.match(reason, /centres of M-196 may have moved since gauge CG-196 was checked/);
    assert.deepEqual(await axe(page), []);
  }
  noMisdeeds();
});

test("an impact document is worked through and closed, and not before", async (t) => {
  const { status, body: raised } = await api("inspector", "/v1/impacts", { gauge: "CG-103", reason: "Dropped on the floor" });
  assert.equal(status, 201, JSON.stringify(raised));
  const at = `/impacts/${raised.id}`;
  const page = await open(t, { role: "inspector" });
  await page.goto("/impacts?open=true");
  await send(page, `.lines a[href="${at}"]`);
  const entries = (await read(`/v1${at}/entries`)).items;
  assert.ok(entries.length >= 2, JSON.stringify(entries));
  assert.equal(await page.locator('input[name^="entry-"]').count(), entries.length);
  // The rules of every page hold here too; its address is nobody's before it is raised.
  for (const scheme of /** @type {const} */ (["light", "dark"])) {
    await page.emulateMedia({ colorScheme: scheme });
    assert.deepEqual(await axe(page), []);
    assert.deepEqual(await page.evaluate(looks.weakContrast, { text: 4.5, marks: 3 }), []);
  }
  assert.deepEqual(await page.evaluate(looks.mainAction, { height: 44, full: false }), []);
  assert.deepEqual(await page.evaluate(looks.hardToHit, { height: 44, gap: 0 }), []);

  // Nothing ticked, nothing said: both are told, and nothing is recorded.
  await send(page);
  assert.match(await page.locator("#errors").innerText(), /Tick at least one entry[\s\S]*Choose one[\s\S]*few words/);
  await tellsFaults(page, ["entries", "outcome", "note"]);
  for (const entry of entries) await page.check(`input[name="entry-${entry.number}"]`);
  await page.selectOption("#outcome", "cleared");
  await page.fill("#note", "Heights read again on the spare gauge");
  await send(page);
  const judged = (await read(`/v1${at}/entries`)).items;
  assert.deepEqual([...new Set(judged.map((/** @type {any} */ entry) => entry.outcome))], ["cleared"]);
  await page.fill("#closing", "Nothing was wrong");
  await send(page);
  const closed = await read(`/v1${at}`);
  assert.deepEqual([closed.open, closed.closing_note], [false, "Nothing was wrong"]);
  assert.equal(await page.locator('input[name^="entry-"]').count(), 0);

  // A run whose pieces are not booked gets no outcome: the page says why, and keeps what was typed.
  const going = await api("inspector", "/v1/impacts", { gauge: "CG-102", reason: "Found in a drawer" });
  assert.equal(going.status, 201, JSON.stringify(going.body));
  await page.goto(`/impacts/${going.body.id}`);
  const runs = (await read(`/v1/impacts/${going.body.id}/entries`)).items;
  for (const entry of runs) await page.check(`input[name="entry-${entry.number}"]`);
  await page.selectOption("#outcome", "informed");
  await page.fill("#note", "Told the setter");
  await send(page);
  assert.match(await page.title(), /^Error:/);
  assert.match(await page.locator(".refusals").innerText(), /runs whose pieces are not booked/);
  assert.equal(await page.inputValue("#note"), "Told the setter");
  noMisdeeds();
});
