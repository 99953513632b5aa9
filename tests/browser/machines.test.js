// The list of machines follows the records while it is open, and says in words when it does not.

import assert from "node:assert/strict";
import { connect, createServer } from "node:net";
import test from "node:test";
import { address, api, noMisdeeds, open, secret } from "./harness.js";

/** @param {string} machine @param {string} reason */
async function tagOut(machine, reason) {
  const { status, body } = await api("clerk", "/v1/tag-outs", { machine, reason });
  assert.equal(status, 201, JSON.stringify(body));
  return body.id;
}

/** @param {string} id */
async function clear(id) {
  const { status, body } = await api("maintainer", `/v1/tag-outs/${id}/clear`, { note: "put right" });
  assert.equal(status, 200, JSON.stringify(body));
}

/** The page says that it is live. @param {import("playwright-core").Page} page */
async function live(page) {
  await page.locator('[data-live="good"]').filter({ hasText: "Live, as of" }).waitFor({ timeout: 10000 });
}

/** The page says that it is not. @param {import("playwright-core").Page} page @param {number} timeout */
async function notLive(page, timeout) {
  await page.locator('[data-live="broken"]').filter({ hasText: "Not live since" }).waitFor({ timeout });
}

/** @param {import("playwright-core").Page} page */
async function codes(page) {
  return (await page.locator("#machines h2 a").allTextContents()).map((text) => text.trim());
}

/** Puts a gauge on record that was checked last week, for three days. */
async function aGaugeWhoseCheckIsOverdue() {
  const day = (/** @type {number} */ ago) => new Date(Date.now() - ago * 86_400_000).toISOString();
  const inch = (/** @type {number} */ value) => ({ value, unit: "in" });
  const gauge = {
    code: "CG-193",
    name: "Centre gauge, bay 2, spare",
    machine: "M-102",
    nominal: inch(3.752),
    limits: { lower: inch(-0.0003), upper: inch(0.0003) },
    place: "BIN-G1",
  };
  assert.equal((await api("supervisor", "/v1/center-gauges", gauge)).status, 201);
  const check = {
    as_found: inch(3.752),
    standard_uncertainty: inch(0.00005),
    performed_at: day(6),
    next_check: day(3).slice(0, 10),
  };
  const { status, body } = await api("inspector", "/v1/center-gauges/CG-193/checks", check);
  assert.equal(status, 201, JSON.stringify(body));
}

test("the list says of each machine what the records say, those that need somebody first", async (t) => {
  await aGaugeWhoseCheckIsOverdue();
  const page = await open(t, { role: "setter" });
  await page.goto("/machines");
  const { body: floor } = await api("setter", "/v1/floor");
  assert.deepEqual(await codes(page), floor.machines.map((/** @type {any} */ machine) => machine.machine));
  const record = await open(t, { role: "setter" });
  const today = new Date().toISOString().slice(0, 10);
  let overdue = 0;
  for (const machine of floor.machines) {
    const row = page.locator("#machines .floor-list > li").filter({ hasText: machine.name });
    const text = (await row.innerText()).replaceAll(/\s+/g, " ");
    for (const gauge of machine.gauges) {
      assert.ok(text.includes(gauge.code), `${gauge.code}: ${text}`);
      // An overdue check is a state, not a day among others.
      if (gauge.next_check === null || gauge.next_check >= today) continue;
      overdue += 1;
      await row.locator(".state:has(.mark.stop)").getByText("check overdue since").first().waitFor();
      for (const path of [`/items/${gauge.code}`, `/center-gauges/${gauge.code}`]) {
        await record.goto(path);
        await record.locator("main .state.stop").getByText("check overdue since").waitFor();
        assert.equal(await record.locator("main .state.good", { hasText: /^usable$/ }).count(), 0, path);
      }
    }
    if (machine.setup) assert.ok(text.includes(machine.setup.in_charge.name), text);
    const { body: permit } = await api("setter", `/v1/machines/${machine.machine}/run-permit`);
    assert.equal(machine.permitted, permit.permitted);
    assert.ok(
      text.includes(permit.permitted ? "Nothing on record stands against it" : `against it: ${permit.blockers.length}`),
      text,
    );
  }
  assert.ok(overdue > 0, "there is an overdue gauge");
  noMisdeeds();
});

test("a change by somebody else shows within two seconds, and what was open stays open", async (t) => {
  const page = await open(t, { role: "setter" });
  await page.goto("/machines");
  await live(page);
  await page.locator("#against-M-101 > summary").click();
  await page.locator('#machines h2 a[href="/machines/M-101"]').focus();
  const id = await tagOut("M-101", "guard rail loose");
  await page.locator("#machines").filter({ hasText: "guard rail loose" }).waitFor({ timeout: 2000 });
  assert.equal((await codes(page))[0], "M-101", "who needs somebody comes first");
  assert.equal(await page.locator(".button.main").getAttribute("href"), "/machines/M-101");
  assert.equal(await page.locator("#live a:visible").count(), 0, "a page that is live needs no refreshing");
  assert.equal(await page.locator("#against-M-101").getAttribute("open"), "");
  assert.equal(await page.evaluate(() => document.activeElement?.getAttribute("href")), "/machines/M-101");
  await clear(id);
  await page.locator("#machines").filter({ hasNotText: "guard rail loose" }).waitFor({ timeout: 2000 });
  noMisdeeds();
});

test("a machine's own page follows too", async (t) => {
  const page = await open(t, { role: "setter" });
  await page.goto("/machines/M-101");
  await live(page);
  const id = await tagOut("M-101", "coolant on the floor");
  await page.locator("#machine").filter({ hasText: "coolant on the floor" }).waitFor({ timeout: 2000 });
  await clear(id);
  await page.locator("#machine").filter({ hasNotText: "coolant on the floor" }).waitFor({ timeout: 2000 });
  const { body: machine } = await api("setter", "/v1/machines/M-101");
  assert.equal(await page.locator(".button.main").getAttribute("href"), "/machines/M-101/setups");
  assert.equal(machine.open_setup, undefined);
  const { body: other } = await api("setter", "/v1/machines/M-102");
  await page.goto("/machines/M-102");
  assert.equal(await page.locator(".button.main").getAttribute("href"), `/setups/${other.open_setup}`);
  noMisdeeds();
});

/**
 * A wire to the server that can be cut, or fall silent.
 * @param {import("node:test").TestContext} t
 */
async function wire(t) {
  const { hostname, port } = new URL(address);
  /** @type {Set<import("node:net").Socket>} */ const ends = new Set();
  let whole = true;
  const server = createServer((near) => {
    if (!whole) {
      near.destroy();
      return;
    }
    const far = connect(Number(port), hostname);
    for (const [one, other] of [[near, far], [far, near]]) {
      ends.add(one);
      one.pipe(other);
      one.on("error", () => other.destroy());
      one.on("close", () => {
        ends.delete(one);
        other.destroy();
      });
    }
  });
  await new Promise((resolve) => server.listen(0, "127.0.0.1", () => resolve(undefined)));
  const cut = () => {
    whole = false;
    for (const end of ends) end.destroy();
  };
  t.after(() => {
    cut();
    server.close();
  });
  const own = /** @type {import("node:net").AddressInfo} */ (server.address());
  return {
    base: `http://127.0.0.1:${own.port}`,
    cut,
    mend: () => (whole = true),
    silence: () => ends.forEach((end) => end.unpipe()),
  };
}

test("a stream that breaks is told in words, and the list is fresh again when it is back", async (t) => {
  const { base, cut, mend } = await wire(t);
  const page = await open(t, { role: "setter", base });
  await page.goto("/machines");
  await live(page);
  cut();
  await notLive(page, 2000);
  assert.equal(await page.locator('[data-live="good"]').isVisible(), false);
  const id = await tagOut("M-101", "while nobody could see it");
  await page.waitForTimeout(2500);
  assert.equal(await page.locator('[data-live="good"]').isVisible(), false, "old is not shown as fresh");
  assert.doesNotMatch(await page.locator("#machines").innerText(), /while nobody could see it/);
  mend();
  await page.locator("#machines").filter({ hasText: "while nobody could see it" }).waitFor({ timeout: 10000 });
  await live(page);
  await clear(id);
});

test("a wire that falls silent is not taken for a floor on which nothing happens", async (t) => {
  const { base, silence } = await wire(t);
  const page = await open(t, { role: "setter", base });
  await page.goto("/machines");
  await live(page);
  silence();
  await notLive(page, 15000);
});

test("a list that cannot be asked for is not live, though the stream goes on", async (t) => {
  const page = await open(t, { role: "setter" });
  await page.goto("/machines");
  await live(page);
  await page.route("**/machines", (route) => route.abort());
  const id = await tagOut("M-101", "nobody hears");
  await notLive(page, 3000);
  await page.unroute("**/machines");
  await page.locator("#machines").filter({ hasText: "nobody hears" }).waitFor({ timeout: 10000 });
  await clear(id);
});

test("a session that ends ends its stream, and the page says to sign in", async (t) => {
  const page = await open(t, { role: "" });
  await page.goto("/sign-in");
  await page.fill("#badge", "grinder");
  await page.fill("#secret", secret);
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname === "/");
  await page.goto("/machines");
  await live(page);
  const left = await page.request.post("/sign-out", { headers: { Origin: address }, form: {}, maxRedirects: 0 });
  assert.equal(left.status(), 303);
  await notLive(page, 15000);
  await page.locator("#live").filter({ hasText: "Sign in again." }).waitFor({ timeout: 5000 });
});

test("without scripts the list says that it is not live, and is shown anew by a link", async (t) => {
  const page = await open(t, { role: "setter", scripts: false });
  await page.goto("/machines");
  assert.match(await page.locator("#live").innerText(), /As of .*Not live/s);
  const id = await tagOut("M-101", "seen on the next look");
  await page.click("#live a");
  await page.locator("#machines").filter({ hasText: "seen on the next look" }).waitFor({ timeout: 2000 });
  await clear(id);
});

test("machines are found, scanned and linked", async (t) => {
  const page = await open(t, { role: "setter" });
  await page.goto("/find?text=M-10");
  await page.click('main a[href="/machines/M-102"]');
  await page.waitForURL((url) => url.pathname === "/machines/M-102");
  await page.goto("/s/m-103");
  assert.equal(new URL(page.url()).pathname, "/machines/M-103");
  await page.goto("/items/CG-103");
  await page.click('main a[href="/machines/M-103"]');
  await page.waitForURL((url) => url.pathname === "/machines/M-103");
  noMisdeeds();
});
