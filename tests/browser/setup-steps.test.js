// Single steps of a setup: readings with their signs and units, what is scanned elsewhere, forms without scripts.

import assert from "node:assert/strict";
import test from "node:test";
import { address, api, located, noMisdeeds, open, scan } from "./harness.js";
import { changePerson, doubted, kinds, leadsTo, looksRight, tapMain, warnsFirst } from "./walking.js";

test("a value that arrives with the word that there is none is read back, and recorded as neither", async (t) => {
  const page = await open(t, { role: "setter", scripts: false });
  const here = await located("/setups/{setup of M-103}/S3");
  const before = await kinds(here.split("/")[2]);
  await page.goto(`${here}?step=height_read&off=1`);
  const answer = await page.request.post(here, {
    headers: { Origin: new URL(page.url()).origin, Accept: "text/html" },
    form: { step: "height_read", on_gauge: "yes", value: "0.001", "value-sign": "plus", unit: "in" },
  });
  assert.match(await answer.text(), /You read 0.001 in/);
  assert.deepEqual(await kinds(here.split("/")[2]), before);
  noMisdeeds();
});

test("boxes begin in the unit that was chosen for the screen", async (t) => {
  const page = await open(t, { role: "setter" });
  const here = await located("/setups/{setup of M-103}/S3");
  const unit = async () => {
    await page.goto(`${here}?step=height_read&off=1`);
    return page.textContent(".measured .unit");
  };
  assert.equal(await unit(), "in", "as the record has it");
  await page.context().addCookies([{ name: "dovetally_preferences", value: "unit:mm", url: address }]);
  assert.equal(await unit(), "mm");
  noMisdeeds();
});

test("a difference on the gauge is typed with its sign by taps, read back, and asked about when it is odd", async (t) => {
  const page = await open(t, { role: "setter" });
  const here = await located("/setups/{setup of M-103}/S3");
  const id = here.split("/")[2];
  const before = await kinds(id);
  await page.goto(`${here}?step=height_read`);
  await page.locator("#height-off").click();
  await looksRight(page);
  // What is typed is what counts: the only main action reads it back.
  assert.equal(await page.textContent(".button.main"), "Read it back");
  assert.equal(await page.locator("input[name=on_gauge]").count(), 0);
  assert.equal(await page.locator("input[name=value-sign]:checked").count(), 0, "no sign is taken for granted");
  await page.fill("#value", "0.01");
  await tapMain(page);
  assert.match((await page.locator("#value-fault").textContent()) ?? "", /Choose plus or minus/);
  await page.fill("#value", "-0.01");
  await tapMain(page);
  await page.locator("#value-fault", { hasText: "without a sign" }).waitFor();
  assert.equal(await page.inputValue("#value"), "-0.01");
  assert.match((await page.locator("#value-fault").textContent()) ?? "", /without a sign/);
  await looksRight(page);
  await page.locator("label", { hasText: "plus" }).click();
  await page.fill("#value", "0.05");
  await tapMain(page);
  await doubted(page, /That would be a small difference if it were in millimetres/);
  await tapMain(page);
  await page.locator("a", { hasText: "Read in millimetre" }).click();
  await page.locator("label", { hasText: "minus" }).click();
  await page.fill("#value", "0,6");
  await tapMain(page);
  await page.locator(".read-back").waitFor();
  assert.match((await page.locator(".read-back").textContent()) ?? "", /You read -0.6 mm, which is -0.02362 in/);
  await doubted(page, /That is a large difference\. Look at the number and the unit again/);
  assert.deepEqual(await kinds(id), before, "nothing is recorded before it is kept");
  await tapMain(page);
  assert.equal(await page.inputValue("#value"), "0,6");
  assert.equal(await page.locator("input[name=value-sign]:checked").inputValue(), "minus");
  await page.fill("#value", "0,02");
  await tapMain(page);
  await page.locator(".read-back").waitFor();
  await page.locator(".button.main").dblclick();
  await leadsTo(page, "?step=tool_clamped");
  await page.waitForTimeout(300);
  assert.deepEqual(await kinds(id), [...before, "height_read"], "a double tap records once");
  const { body } = await api("setter", `/v1/setups/${id}`);
  assert.deepEqual(body.stations[0].height_before_clamping.deviation, { value: -0.02, unit: "mm" });
  noMisdeeds();
});

test("what is scanned anywhere is offered to the setup, and used by a tap", async (t) => {
  const page = await open(t, { role: "setter" });
  const here = await located("/setups/{setup of M-103}/S3");
  const id = here.split("/")[2];
  await page.goto("/find");
  await scan(page, "CG-103");
  await leadsTo(page, `${here}?step=gauge_removed&code=CG-103`);
  await looksRight(page);
  assert.equal((await kinds(id)).includes("gauge_removed"), false, "looking records nothing");
  await tapMain(page);
  await page.waitForURL((url) => !url.search.includes("CG-103"));
  assert.equal((await kinds(id)).at(-1), "gauge_removed");
  // What no step waits for leads to its own page, and so does everything for somebody who works on no setup.
  await page.goto(`/setups/${id}`);
  await scan(page, "MIC-01");
  await leadsTo(page, "/items/MIC-01");
  const clerk = await open(t, { role: "clerk" });
  await clerk.goto("/s/CG-103");
  await leadsTo(clerk, "/items/CG-103");
  noMisdeeds();
});

test("a gauge's verdict holds for a minute, and nothing rests on it after that", async (t) => {
  const page = await open(t, { role: "setter" });
  const here = await located("/setups/{setup of M-103}/S3");
  const before = await kinds(here.split("/")[2]);
  const verdict = async () => (await page.locator("#verdict .word").innerText()).trim();
  await page.clock.install();
  for (const [gauge, told] of [
    ["CG-103", "Right gauge"],
    ["CG-101", "Wrong gauge – stop"],
  ]) {
    await page.goto(`${here}?step=gauge_placed&code=${gauge}`);
    assert.equal(await verdict(), told);
    await page.clock.runFor(50000);
    assert.equal(await verdict(), told);
    await page.clock.runFor(15000);
    assert.equal(await verdict(), "Not checked");
    const said = await page.locator("#answer").innerText();
    assert.match(said, /may no longer hold/);
    assert.ok(said.includes(gauge), said);
    assert.equal(await page.locator('[data-rests-on="verdict"]').count(), 0);
  }
  // Of the right one the main action was to say that it is placed: now it is to scan it again.
  await page.goto(`${here}?step=gauge_placed&code=CG-103`);
  await page.clock.runFor(65000);
  await page.clock.resume();
  await looksRight(page);
  await tapMain(page);
  await page.locator("main #scan-code").waitFor();
  assert.equal(await page.locator("#verdict").count(), 0);
  assert.deepEqual(await kinds(here.split("/")[2]), before);
  noMisdeeds();
});

test("a step is taken without scripts, and once by the same form sent twice", async (t) => {
  const page = await open(t, { role: "setter", scripts: false });
  const here = await located("/setups/{setup of M-103}/S3");
  const id = here.split("/")[2];
  await page.goto(here);
  await page.fill("#scan-code", "CG-103");
  await tapMain(page);
  await page.locator("#verdict", { hasText: "Right gauge" }).waitFor();
  const refresh = page.locator('head noscript meta[http-equiv="refresh"], head meta[http-equiv="refresh"]');
  assert.equal(await refresh.getAttribute("content"), `60;url=${here}?step=gauge_placed`);
  const key = await page.locator("main form input[name=key]").first().getAttribute("value");
  await tapMain(page);
  await leadsTo(page, "?step=tool_clamped");
  const before = await kinds(id);
  const again = await page.request.post(here, {
    headers: { Origin: new URL(page.url()).origin, Accept: "text/html" },
    form: { key: key ?? "", step: "gauge_placed", code: "CG-103", machine_stopped: "yes" },
    maxRedirects: 0,
  });
  assert.notEqual(again.status(), 500);
  assert.deepEqual(await kinds(id), before);
  noMisdeeds();
});

test("whoever may not take a step is told so, and somebody else signs in on the same page", async (t) => {
  const page = await open(t, { role: "clerk" });
  await page.goto(await located("/setups/{setup of M-103}/S3"));
  assert.match((await page.locator("main").textContent()) ?? "", /Somebody else takes this step/);
  await changePerson(page, "setter");
  assert.match((await page.locator(".button.main").textContent()) ?? "", /The tool is clamped/);
  noMisdeeds();
});

test("where hands come near the spindles the page warns before its form, though the carrier is turned by hand", async (t) => {
  const page = await open(t, { role: "setter" });
  for (const step of ["stock_fed", "index_clearance_confirmed"]) {
    await page.goto(await located(`/setups/{setup of M-103}/steps/${step}`));
    const hands = page.locator(".hazard.warning", { hasText: "before you reach in" });
    assert.equal(await hands.locator(".signal").textContent(), "WARNING", step);
    assert.match(await hands.innerText(), /lockout rules/);
    assert.match(await page.locator("main").innerText(), /can cut or crush[^]*no lock/);
    await warnsFirst(page);
    await looksRight(page);
  }
  const station = await located("/setups/{setup of M-103}/S3");
  for (const asked of ["holder_seated", "holder_seated&code=HD-05", "gauge_placed&code=CG-103", "height_read&off=1", "approach_read"]) {
    await page.goto(`${station}?step=${asked}`);
    await warnsFirst(page);
  }
  noMisdeeds();
});
