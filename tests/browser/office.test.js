// The desk: what is due, jobs, supplies. What the pages record is read again by the API.

import assert from "node:assert/strict";
import test from "node:test";
import { read, send, texts } from "./desk.js";
import { tellsFaults } from "./faults.js";
import { address, located, noMisdeeds, open } from "./harness.js";

test("what is due is listed as the API lists it, and each line leads to where it is done", async (t) => {
  const page = await open(t, { role: "inspector", width: 1280, height: 900 });
  await page.goto("/due");
  const due = await read("/v1/due?days=7");
  assert.deepEqual(
    await texts(page, ".lines strong"),
    due.items.map((/** @type {any} */ row) => row.code),
  );
  await send(page);
  assert.ok(new URL(page.url()).pathname.includes(due.items[0].code), page.url());

  await page.goto("/due");
  await page.click(".only > summary");
  await send(page, '.filters a[href="/due?kind=tool_check"]');
  assert.match(await page.locator(".only > summary").innerText(), /tool check/);
  const checks = due.items.filter((/** @type {any} */ row) => row.kind === "tool_check");
  assert.deepEqual(
    await texts(page, ".lines strong"),
    checks.map((/** @type {any} */ row) => row.code),
  );
  // Who may check tools comes to the form; who may not, to what is known.
  await send(page, '.lines a:has-text("FT-006")');
  assert.equal(new URL(page.url()).pathname, "/form-tools/FT-006/checks");
  const setter = await open(t, { role: "setter" });
  await setter.goto("/due?kind=tool_check");
  await send(setter, '.lines a:has-text("FT-006")');
  assert.equal(new URL(setter.url()).pathname, "/tool-life/FT-006");
  noMisdeeds();
});

test("jobs stand by date as they are judged, and a kit is kept and let go", async (t) => {
  const page = await open(t, { role: "clerk", width: 1280, height: 900 });
  await page.goto("/jobs");
  const { items } = await read("/v1/readiness");
  const byDate = items.toSorted((/** @type {any} */ a, /** @type {any} */ b) =>
    a.from < b.from || (a.from === b.from && a.job < b.job) ? -1 : 1,
  );
  assert.deepEqual(await texts(page, ".lines strong"), byDate.map((/** @type {any} */ row) => row.job));
  const first = byDate.find((/** @type {any} */ row) => row.state !== "ready");
  await send(page);
  assert.equal(new URL(page.url()).pathname, `/jobs/${first.job}`);

  // A job for which something is proposed that is not kept yet.
  let chosen;
  for (const row of byDate) {
    const readiness = await read(`/v1/jobs/${row.job}/readiness`);
    const given = readiness.needs.flatMap((/** @type {any} */ need) => (need.kind === "center_gauge" ? [] : need.given));
    if (given.some((/** @type {any} */ one) => !one.kept)) chosen ??= row.job;
  }
  assert.ok(chosen, "the demo shop has a job with something to keep");
  await page.goto(`/jobs/${chosen}`);
  await send(page);
  const kept = (await read(`/v1/jobs/${chosen}/bookings`)).items;
  assert.ok(kept.length > 0);
  assert.deepEqual(await texts(page, "#items tbody th"), kept.map((/** @type {any} */ one) => one.item));

  await send(page, "form[action$='/bookings/cancel'] .button.strong");
  assert.match(await page.locator("#errors").innerText(), /few words[\s\S]*Tick at least one item/);
  for (const one of kept) await page.check(`input[name="item-${one.item}"]`);
  await page.fill("#reason", "Planned anew");
  await send(page, "form[action$='/bookings/cancel'] .button.strong");
  assert.equal(new URL(page.url()).pathname, `/jobs/${chosen}`);
  assert.deepEqual((await read(`/v1/jobs/${chosen}/bookings`)).items, []);

  // Who may not book sees it, and is led back.
  const setter = await open(t, { role: "setter" });
  await setter.goto(`/jobs/${chosen}`);
  await send(setter);
  assert.equal(new URL(setter.url()).pathname, "/jobs");
  noMisdeeds();
});

test("a supply is received, withdrawn and counted, and no more is taken than there is", async (t) => {
  const page = await open(t, { role: "clerk" });
  const at = "/supplies/SUP-FILTER";
  const onHand = async () => (await read(`/v1${at}`)).on_hand;
  const before = await onHand();
  await page.goto(at);
  for (const [box, note, form] of [["received", "receipt-note", "receipts"], ["counted", "count-note", "counts"]]) {
    await page.fill(`#${box}`, "six");
    await page.fill(`#${note}`, "Delivery of Monday");
    await send(page, `form[action$='/${form}'] button`);
    await tellsFaults(page, [box], { [box]: "six", [note]: "Delivery of Monday" });
  }
  await page.fill("#received", "6");
  await page.fill("#receipt-note", "Delivery of Monday");
  await send(page, "form[action$='/receipts'] button");
  assert.equal(await onHand(), before + 6);

  await page.fill("#quantity", "2");
  await page.fill("#machine", "M-101");
  await send(page);
  assert.equal(await onHand(), before + 4);
  const [last] = (await read(`/v1${at}/movements`)).items;
  assert.deepEqual([last.kind, last.change, last.machine], ["withdrawn", -2, "M-101"]);

  await page.fill("#quantity", "9999");
  await page.fill("#withdrawal-note", "for the whole bay");
  await send(page);
  assert.match(await page.title(), /^Error:/);
  assert.match(await page.locator(".refusals").innerText(), /9999 of SUP-FILTER are asked for/);
  assert.equal(await page.inputValue("#quantity"), "9999");
  assert.equal(await page.inputValue("#withdrawal-note"), "for the whole bay");
  await page.fill("#quantity", "1.5");
  await send(page);
  assert.match(await page.locator("#quantity-fault").innerText(), /whole number/);
  await tellsFaults(page, ["quantity"], { quantity: "1.5" });
  assert.equal(await onHand(), before + 4);

  await page.fill("#counted", "4");
  await send(page, "form[action$='/counts'] button");
  assert.equal(await onHand(), 4);
  assert.match((await texts(page, "main table:not(.chart-table) tbody tr"))[0], /counted/);

  // The maintainer withdraws and does not count; the setter looks.
  const maintainer = await open(t, { role: "maintainer" });
  await maintainer.goto(at);
  assert.equal(await maintainer.locator("#quantity").count(), 1);
  assert.equal(await maintainer.locator("#counted").count(), 0);
  const setter = await open(t, { role: "setter" });
  await setter.goto(at);
  assert.equal(await setter.locator("main form").count(), 0);
  noMisdeeds();
});

test("the office works without scripts, and a form that is sent again does its work once", async (t) => {
  const page = await open(t, { role: "clerk", scripts: false });
  await page.goto("/supplies/SUP-GREASE");
  const { on_hand: before } = await read("/v1/supplies/SUP-GREASE");
  const key = await page.inputValue('form[action$="/withdrawals"] input[name="key"]');
  await page.fill("#quantity", "1");
  await send(page);
  const origin = new URL(page.url()).origin;
  const again = await page.request.post("/supplies/SUP-GREASE/withdrawals", {
    headers: { Origin: origin, Accept: "text/html" },
    form: { key, quantity: "1", machine: "", note: "" },
  });
  assert.equal(again.status(), 200);
  assert.equal((await read("/v1/supplies/SUP-GREASE")).on_hand, before - 1);
});

test("a decimal comma and days by the screen's settings", async (t) => {
  const page = await open(t, { role: "inspector" });
  await page.context().addCookies([
    { name: "dovetally_preferences", value: "mark:comma.days:day-first", url: address },
  ]);
  await page.goto("/center-gauges/CG-101");
  const text = await page.locator("main").innerText();
  assert.match(text, /3,75 in/);
  assert.match(text, /Check by \d\d\.\d\d\.\d{4}/);
  assert.match(await page.locator(".for-phone svg").innerHTML(), /0,000\d/);
  const nominal = page.locator(".facts details.length").first();
  await nominal.locator("summary").click();
  assert.match(await nominal.innerText(), /95,25 mm/);
});

test("a time has its day as the settings have it, by the reader's clock and its 24 hours", async (t) => {
  for (const [style, pattern] of /** @type {[string, string][]} */ ([
    ["day-first", "{day}.{month}.{year} {hour}:{minute}"],
    ["year-first", "{year}-{month}-{day} {hour}:{minute}"],
  ])) {
    const page = await open(t, { role: "supervisor" });
    await page.context().addCookies([{ name: "dovetally_preferences", value: `days:${style}`, url: address }]);
    await page.goto(await located("/setups/{setup of M-102}"));
    const time = page.locator("main time").last();
    const wanted = await time.evaluate((shown, written) => {
      const at = new Date(shown.getAttribute("datetime") ?? "");
      const parts = { year: at.getFullYear(), month: at.getMonth() + 1, day: at.getDate(), hour: at.getHours(), minute: at.getMinutes() };
      return Object.entries(parts).reduce((text, [name, part]) => text.replace(`{${name}}`, String(part).padStart(2, "0")), written);
    }, pattern);
    assert.equal(await time.textContent(), wanted);
    noMisdeeds();
  }
});
