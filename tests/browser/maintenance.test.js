// Maintenance: an order from its report to its end, what is due, and what is out of service.

import assert from "node:assert/strict";
import test from "node:test";
import { tellsFaults } from "./faults.js";
import { api, axe, noMisdeeds, open } from "./harness.js";
import * as looks from "./looks.js";

/** @param {import("node:test").TestContext} t @param {string} role @param {string} path @param {object} [wishes] */
async function at(t, role, path, wishes) {
  const page = await open(t, { role, ...wishes });
  await page.goto(path);
  return page;
}

/** The id at the end of a page's address. @param {import("playwright-core").Page} page */
function idOf(page) {
  return new URL(page.url()).pathname.split("/").at(-1) ?? "";
}

/** An order of the records. @param {string} id */
async function order(id) {
  return (await api("maintainer", `/v1/work-orders/${id}`)).body;
}

/** Reports a breakdown by the API. @param {string} machine @param {string} what */
async function broken(machine, what) {
  const { status, body } = await api("setter", "/v1/work-orders", { subject: { machine }, what, breakdown: true });
  assert.equal(status, 201, JSON.stringify(body));
  return body.id;
}

/** @param {import("playwright-core").Page} page */
async function looksRight(page) {
  assert.deepEqual(await axe(page), []);
  assert.deepEqual(await page.evaluate(looks.mainAction, { height: 120, full: true }), []);
  assert.deepEqual(await page.evaluate(looks.hardToHit, { height: 64, gap: 16 }), []);
  assert.deepEqual(await page.evaluate(looks.weakContrast, { text: 7, marks: 3 }), []);
  assert.deepEqual(await page.evaluate(looks.wordless), []);
}

test("a setter reports a breakdown; whoever maintains begins it, writes it up, and what was used is withdrawn", async (t) => {
  const setter = await at(t, "setter", "/work-orders/new");
  await setter.fill("#about", "Chip conveyor");
  await setter.selectOption("#ago", "60");
  await setter.click(".button.main");
  await tellsFaults(setter, ["what"], { about: "Chip conveyor", ago: "60" });
  await looksRight(setter);
  await setter.fill("#about", "");
  await setter.selectOption("#machine", "M-102");
  await setter.fill("#what", "Chip conveyor stands still");
  await setter.selectOption("#ago", "60");
  await setter.click(".button.main");
  await setter.waitForURL(/work-orders\/[0-9a-f-]{36}$/);
  const id = idOf(setter);
  const reported = await order(id);
  assert.equal(reported.breakdown, true);
  assert.equal(reported.subject.machine, "M-102");
  const minutes = (Date.parse(reported.opened_at) - Date.parse(reported.down_from)) / 60000;
  assert.ok(Math.abs(minutes - 60) < 1, `down since ${minutes} minutes before`);
  await looksRight(setter);

  const page = await at(t, "maintainer", "/maintenance");
  await looksRight(page);
  // A machine that is down comes first, and of several the one that waits longest.
  const { body: all } = await api("maintainer", "/v1/work-orders?open=true&breakdown=true&limit=200");
  const down = all.items.filter((/** @type {any} */ item) => item.down_from && !item.down_until && item.subject.machine);
  assert.equal(await page.getAttribute(".button.main", "href"), `/work-orders/${down.at(-1).id}`);
  await page.click(`.tasks a[href="/work-orders/${id}"]`);
  assert.match((await page.locator(".hazard.warning").textContent()) ?? "", /lock it out by your local rules/);
  await looksRight(page);
  await page.click(".button.main");
  await page.locator(".button.main", { hasText: "Write up" }).waitFor();
  assert.equal((await order(id)).state, "started");
  await looksRight(page);

  const { body: before } = await api("maintainer", "/v1/supplies/SUP-GREASE");
  await api("clerk", "/v1/supplies/SUP-GREASE/receipts", { quantity: 5 });
  await page.click(".button.main");
  await looksRight(page);
  await page.fill("#note", "Belt put back and tensioned");
  await page.fill("#part-SUP-GREASE", "2");
  await page.click(".button.main");
  // What the work touched decides about gauges: nobody guesses it.
  await tellsFaults(page, ["touched"], { note: "Belt put back and tensioned", "part-SUP-GREASE": "2" });
  await looksRight(page);
  await page.locator("label.button", { hasText: "neither slide" }).click();
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname === `/work-orders/${id}`);
  const done = await order(id);
  assert.equal(done.state, "done");
  assert.equal(done.touched, "nothing");
  assert.deepEqual(done.parts_used.map((/** @type {any} */ part) => [part.supply, part.quantity]), [["SUP-GREASE", 2]]);
  const { body: after } = await api("maintainer", "/v1/supplies/SUP-GREASE");
  assert.equal(after.on_hand, before.on_hand + 3);
  await looksRight(page);
  noMisdeeds();
});

test("without scripts and with a double tap an order is opened once, and it can be called off", async (t) => {
  const page = await at(t, "maintainer", "/work-orders/new", { scripts: false });
  await page.fill("#about", "Air dryer of the hall");
  await page.fill("#what", "Drain the tank");
  const key = await page.inputValue("main input[name=key]");
  await page.click(".button.main");
  await page.waitForURL(/work-orders\/[0-9a-f-]{36}$/);
  const id = idOf(page);
  assert.equal((await order(id)).subject.other, "Air dryer of the hall");
  // The same form once more, with its key: the same order.
  const form = { key, machine: "", about: "Air dryer of the hall", what: "Drain the tank", breakdown: "no", ago: "0" };
  const headers = { Origin: new URL(page.url()).origin, Accept: "text/html" };
  const again = await page.request.post("/work-orders/new", { headers, form, maxRedirects: 0 });
  assert.equal(again.headers().location, `/work-orders/${id}`);
  await page.click("text=Call the order off");
  await page.click(".button.main");
  assert.match((await page.locator("#note-fault").textContent()) ?? "", /blank/);
  await page.fill("#note", "Drained already");
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname === `/work-orders/${id}`);
  assert.equal((await order(id)).state, "cancelled");
});

test("an order that was begun meanwhile is refused with its reason", async (t) => {
  const id = await broken("M-103", "Oil mist at station 4");
  const page = await at(t, "maintainer", `/work-orders/${id}`);
  assert.equal((await api("maintainer", `/v1/work-orders/${id}/start`, {})).status, 200);
  await page.click(".button.main");
  await page.locator(".refusals").waitFor();
  assert.match((await page.locator(".refusals").textContent()) ?? "", /started before/);
  await api("maintainer", `/v1/work-orders/${id}/cancel`, { note: "For a test", touched: "nothing" });
});

test("a plan's order is opened from the list, once", async (t) => {
  const page = await at(t, "maintainer", "/maintenance");
  const plan = page.locator(".entries li", { hasText: "MP-COOLANT" });
  await plan.locator("button").click();
  await page.waitForURL(/work-orders\/[0-9a-f-]{36}$/);
  const id = idOf(page);
  assert.equal((await order(id)).plan, "MP-COOLANT");
  assert.match((await page.locator("ol").textContent()) ?? "", /Pump it empty/);
  assert.match((await page.locator("main").textContent()) ?? "", /Nobody enters the tank/);
  await page.goto("/maintenance");
  const open = page.locator(".entries li", { hasText: "Clean the coolant tank" });
  assert.equal(await open.locator(`a[href="/work-orders/${id}"]`).count(), 1);
  await api("maintainer", `/v1/work-orders/${id}/cancel`, { note: "For a test" });
});

test("anybody takes a machine out of service, only whoever maintains puts it back, and it says that it locks nothing", async (t) => {
  const clerk = await at(t, "clerk", "/tag-outs/new");
  assert.match((await clerk.locator(".hazard.warning").textContent()) ?? "", /record, not a lock/);
  await clerk.fill("#reason", "Guard door does not close");
  await clerk.click(".button.main");
  await tellsFaults(clerk, ["machine"], { reason: "Guard door does not close" });
  await looksRight(clerk);
  await clerk.selectOption("#machine", "M-103");
  await clerk.click(".button.main");
  await clerk.waitForURL((url) => url.pathname === "/maintenance");
  const { body } = await api("clerk", "/v1/tag-outs?machine=M-103&in_force=true");
  const placed = body.items.find((/** @type {any} */ item) => item.reason === "Guard door does not close");
  assert.equal(placed.placed_by, "clerk");
  await looksRight(clerk);

  await clerk.goto(`/tag-outs/${placed.id}`);
  assert.equal(await clerk.locator("main form").count(), 0);
  await looksRight(clerk);

  const page = await at(t, "maintainer", `/tag-outs/${placed.id}`);
  await looksRight(page);
  await page.fill("#note", "Hinge replaced");
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname === `/tag-outs/${placed.id}`);
  const { body: cleared } = await api("clerk", `/v1/tag-outs/${placed.id}`);
  assert.deepEqual([cleared.in_force, cleared.cleared_by, cleared.note], [false, "maintainer", "Hinge replaced"]);
  noMisdeeds();
});

test("reliability shows what the API answers, with its limits", async (t) => {
  const page = await at(t, "supervisor", "/maintenance/reliability");
  const { body } = await api("supervisor", "/v1/machines/M-101/reliability");
  const row = page.locator("tbody tr", { hasText: "M-101" });
  assert.equal(await row.locator("td").nth(3).textContent(), String(body.failures));
  const said = (await page.locator("main").textContent()) ?? "";
  assert.ok(said.includes(body.sentence) && !/\d\.\d{2}/.test(body.sentence), body.sentence);
  for (const caution of body.cautions) assert.equal(said.split(caution).length - 1, 1, `${caution} is told once`);
});
