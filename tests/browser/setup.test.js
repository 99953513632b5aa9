// A setup from signing in to the released run, on a small screen, by scans and taps; and what is refused on the way.

import assert from "node:assert/strict";
import test from "node:test";
import { tellsFaults } from "./faults.js";
import { api, noMisdeeds, open, scan, signIn } from "./harness.js";
import { changePerson, doubted, kinds, leadsTo, looksRight, saysWhatBlocks, tapMain, typeAndKeep } from "./walking.js";

/** @typedef {import("playwright-core").Page} Page */

test("the main job, from signing in to the released run and its end", async (t) => {
  const page = await open(t);
  await signIn(page, "setter");
  // The gauge is in the setter's hands.
  await page.click('main a[href="/counter"]');
  await leadsTo(page, "/counter");
  await scan(page, "CG-101");
  await page.locator("#said").filter({ hasText: /CG-101 is handed out to Sam Okoro/ }).waitFor();

  await page.click('.places a[href="/"]');
  await page.waitForURL((url) => url.pathname === "/");
  await scan(page, "M-101");
  await leadsTo(page, "/machines/M-101");
  await tapMain(page);
  await leadsTo(page, "/machines/M-101/setups");
  await scan(page, "J-5001");
  await leadsTo(page, "code=J-5001");
  await looksRight(page);
  await tapMain(page);
  await page.waitForURL((url) => /^\/setups\/[0-9a-f-]{36}\/S1$/.test(url.pathname));
  const id = new URL(page.url()).pathname.split("/")[2];
  const { body: opened } = await api("setter", `/v1/setups/${id}`);
  assert.deepEqual([opened.job, opened.part, opened.in_charge.badge], ["J-5001", "P-2001", "setter"]);

  assert.equal(opened.stations[0].planned_tool, "FT-001", "the plan picks what the job wants");
  // No tool for S2 outlasts the job: the plan picks none, and one that fits is taken.
  const picked = opened.stations.map((/** @type {any} */ at) => ({
    station: at.station,
    holder: at.planned_holder ?? "HD-02",
    tool: at.planned_tool ?? "FT-004",
  }));
  for (const at of picked) {
    const here = `/setups/${id}/${at.station}`;
    await leadsTo(page, `${here}?step=holder_seated`);
    await saysWhatBlocks(page, id);
    if (at.station === "S1") await wrongThingsFirst(page, id);
    await scan(page, at.holder);
    await leadsTo(page, `code=${at.holder}`);
    await looksRight(page);
    await tapMain(page);

    await leadsTo(page, `${here}?step=tool_inserted`);
    await saysWhatBlocks(page, id);
    await scan(page, at.tool);

    await leadsTo(page, `${here}?step=gauge_placed`);
    await looksRight(page);
    if (at.station === "S1") await wrongGauge(page, id);
    await scan(page, "CG-101");
    await page.locator("#verdict", { hasText: "Right gauge" }).waitFor();
    await looksRight(page);
    assert.equal((await kinds(id)).includes("gauge_placed"), at.station !== "S1", "a scan alone places nothing");
    await tapMain(page);

    await leadsTo(page, `${here}?step=height_read`);
    await looksRight(page);
    await tapMain(page);
    await leadsTo(page, `${here}?step=tool_clamped`);
    await tapMain(page);
    await leadsTo(page, `${here}?step=height_read`);
    await tapMain(page);

    await leadsTo(page, `${here}?step=gauge_removed`);
    await looksRight(page);
    // Nothing goes on past a gauge in the machine.
    const trial = await page.request.get(`/setups/${id}/steps/trial_cut_begun`, { headers: { Accept: "text/html" } });
    assert.match(await trial.text(), /Gauge CG-101 is in the machine, at station/);
    // Nobody tried yet.
    assert.match(await trial.text(), /Not yet/);
    assert.doesNotMatch(await trial.text(), /Not recorded|role="alert"/);
    await scan(page, "CG-101");
  }

  await leadsTo(page, "/steps/stock_fed");
  await looksRight(page);
  // No bar is that thick beside the part: typed in the other unit.
  await page.fill("#value", "17.5");
  await tapMain(page);
  await doubted(page, /would fit .+ if it were in the other unit/);
  await page.locator("p", { hasText: "Bar: round" }).waitFor();
  await tapMain(page);
  assert.equal(await page.inputValue("#value"), "17.5");
  await typeAndKeep(page, "0,6875");
  await leadsTo(page, "/steps/index_clearance_confirmed");
  await looksRight(page);
  await tapMain(page);
  for (const at of opened.stations) {
    await leadsTo(page, `/setups/${id}/${at.station}?step=approach_read`);
    await saysWhatBlocks(page, id);
    await typeAndKeep(page, "0.010");
  }
  await leadsTo(page, "/steps/trial_cut_begun");
  await tapMain(page);
  await leadsTo(page, "/steps/first_piece_judged");

  await measureOne(page, id);

  // Whoever set it does not judge it.
  assert.match((await page.locator(".button.main").textContent()) ?? "", /Sign in as somebody else/);
  await changePerson(page, "inspector");
  await looksRight(page);
  await judge(page, id);

  // An inspector does not release it.
  await leadsTo(page, "/steps/run_released");
  assert.match((await page.locator(".button.main").textContent()) ?? "", /Sign in as somebody else/);
  await changePerson(page, "setter");
  await looksRight(page);
  assert.match((await page.locator(".blocks").textContent()) ?? "", /Nothing blocks the release/);
  await tapMain(page);
  await leadsTo(page, `/setups/${id}`);
  const { body: released } = await api("setter", `/v1/setups/${id}`);
  assert.equal(released.state, "released");
  assert.equal((await api("setter", "/v1/machines/M-101/run-permit?purpose=production")).body.permitted, true);
  const station = ["holder_seated", "tool_inserted", "gauge_placed", "height_read", "tool_clamped", "height_read", "gauge_removed"];
  assert.deepEqual(await kinds(id), [
    ...station,
    ...station,
    "stock_fed",
    "index_clearance_confirmed",
    "approach_read",
    "approach_read",
    "trial_cut_begun",
    "sizes_read",
    "first_piece_judged",
    "first_piece_judged",
    "run_released",
  ]);
  await looksRight(page);

  await ended(page, id);
  noMisdeeds();
});

/**
 * To a step of the machine as a whole by taps: on the setup's page it comes next, or is something else to do.
 * @param {Page} page @param {string} id @param {string} step
 */
async function toStep(page, id, step) {
  const overview = `/setups/${id}`;
  if (new URL(page.url()).pathname !== overview) await page.locator(`main a[href="${overview}"]`).first().click();
  await leadsTo(page, overview);
  const link = page.locator(`main a[href="${overview}/steps/${step}"]`);
  if (!(await link.isVisible())) await page.locator("details.others > summary").click();
  await link.click();
  await leadsTo(page, `/steps/${step}`);
}

/** The setter measures a piece before it goes to the inspector. @param {Page} page @param {string} id */
async function measureOne(page, id) {
  await page.click(`a.button[href="/setups/${id}/sizes"]`);
  await page.fill("#value", "0,5");
  await tapMain(page);
  await page.locator("#keep").waitFor();
  await looksRight(page);
  await tapMain(page);
  await leadsTo(page, /sizes\?station=S2/);
  await page.click(`.ways a[href="/setups/${id}"]`);
  await leadsTo(page, `/setups/${id}`);
  await tapMain(page);
  await leadsTo(page, "/steps/first_piece_judged");
}

/** What does not belong into the station is refused with its reason, and nothing is recorded. @param {Page} page @param {string} id */
async function wrongThingsFirst(page, id) {
  await scan(page, "HD-06");
  await page.locator(".refused", { hasText: "style" }).waitFor();
  assert.match((await page.locator(".refused .said").textContent()) ?? "", /Cannot be used here/);
  await looksRight(page);
  await scan(page, "CG-101");
  await page.locator(".refused", { hasText: "CG-101 is a centre gauge" }).waitFor();
  assert.deepEqual(await kinds(id), []);
}

/** Another machine's gauge is stopped by the largest words on the page. @param {Page} page @param {string} id */
async function wrongGauge(page, id) {
  const before = await kinds(id);
  await scan(page, "CG-103");
  const word = page.locator("#verdict .word");
  await word.filter({ hasText: "Wrong gauge – stop" }).waitFor();
  // How large it is says the style sheet, which may come after it.
  await page.waitForLoadState();
  assert.ok((await word.evaluate((node) => Number.parseFloat(getComputedStyle(node).fontSize))) >= 48);
  assert.match((await page.locator("#verdict").textContent()) ?? "", /CG-103 is cut for machine M-103. This is machine M-101/);
  assert.doesNotMatch((await page.locator(".refused").textContent()) ?? "", /place it here|Scan it as removed/);
  assert.equal(await page.locator(".hazard .signal").textContent(), "WARNING", "a wrong gauge is no hazard to people");
  await looksRight(page);
  // A form that was made by hand gets no further.
  const answer = await page.request.post(new URL(page.url()).pathname, {
    headers: { Origin: new URL(page.url()).origin, Accept: "text/html" },
    form: { step: "gauge_placed", code: "CG-103", machine_stopped: "yes" },
  });
  assert.equal(answer.status(), 409);
  assert.match(await answer.text(), /Wrong gauge – stop/);
  assert.deepEqual(await kinds(id), before);
}

/** What was typed stays while boxes and limits turn to the other unit and back. @param {Page} page */
async function readInTheOtherUnit(page) {
  const typed = ["12,7", "0.4795", ""];
  for (const [index, value] of typed.entries()) await page.fill(`#r${index}`, value);
  for (const [change, unit, limits] of [
    ["Read in millimetre", "mm", "12.573 mm to 12.827 mm"],
    ["Read in inch", "in", "0.495 in to 0.505 in"],
  ]) {
    await page.getByRole("button", { name: change, exact: true }).click();
    await page.locator(".measured legend", { hasText: limits }).waitFor();
    assert.deepEqual(await page.locator(".measured .unit").allTextContents(), [unit, unit, unit]);
    for (const [index, value] of typed.entries()) {
      assert.equal(await page.inputValue(`#r${index}`), value);
      assert.ok((await page.getAttribute(`#r${index}`, "aria-label"))?.endsWith(`, ${unit}`));
    }
    for (const legend of await page.locator(".measured legend").allTextContents()) assert.match(legend, new RegExp(` ${unit} to .* ${unit}$`));
    assert.equal(await page.locator("#errors").count(), 0, "nothing is read yet");
  }
}

/** Every feature is measured, read back, and judged: a bad piece first, then a good one. @param {Page} page @param {string} id */
async function judge(page, id) {
  await page.fill("#r0", "1,500.5");
  await tapMain(page);
  await tellsFaults(page, ["r0"], { r0: "1,500.5" });
  await page.evaluate(() => window.scrollTo(0, 0));
  await looksRight(page);
  await readInTheOtherUnit(page);
  const measure = async (/** @type {string[]} */ values) => {
    for (const [index, value] of values.entries()) await page.fill(`#r${index}`, value);
    await tapMain(page);
    await page.locator("h2", { hasText: "You measured" }).waitFor();
  };
  await measure(["12.7", "0.4795", "0.5992"]);
  await doubted(page, /if it were in the other unit/);
  // A slip costs no judgement: it is typed again. Kept all the same, the piece is not accepted.
  await tapMain(page);
  assert.equal(await page.inputValue("#r0"), "12.7");
  await measure(["12.7", "0.4795", "0.5992"]);
  await page.locator("button.strong", { hasText: "Do not accept" }).click();
  await leadsTo(page, /\/(steps\/first_piece_judged|sizes\?station=S1)$/);
  assert.equal((await api("setter", `/v1/setups/${id}`)).body.first_piece.accepted, false);
  if (!page.url().endsWith("/first_piece_judged")) await toStep(page, id, "first_piece_judged");
  await measure(["0,5", "0.4795", "0.5992"]);
  await looksRight(page);
  await tapMain(page);
  await leadsTo(page, "/steps/run_released");
  const { body } = await api("setter", `/v1/setups/${id}`);
  assert.deepEqual([body.first_piece.accepted, body.first_piece.by.badge], [true, "inspector"]);
}

/** The run is stopped, its pieces booked, the setup closed; the next one sees it as last time. @param {Page} page @param {string} id */
async function ended(page, id) {
  await toStep(page, id, "run_stopped");
  await looksRight(page);
  await tapMain(page);
  await page.locator("#errors").waitFor();
  await page.fill("#pieces", "120");
  await page.fill("#reason", "end of the lot");
  await tapMain(page);
  // Released a moment ago: so many are asked back, and kept as typed.
  await page.locator(".refused", { hasText: "cannot have made more than" }).waitFor();
  assert.deepEqual([await page.inputValue("#pieces"), await page.inputValue("#reason")], ["120", "end of the lot"]);
  assert.equal((await api("setter", `/v1/setups/${id}`)).body.state, "released");
  await looksRight(page);
  await page.locator("#keep button").click();
  await page.waitForURL((url) => !url.pathname.endsWith("run_stopped"));
  assert.equal((await api("setter", `/v1/setups/${id}`)).body.pieces, 120);
  await toStep(page, id, "closed");
  await page.fill("#reason", "the lot is made");
  await tapMain(page);
  await leadsTo(page, `/setups/${id}`);
  await looksRight(page);
  assert.equal((await api("setter", `/v1/setups/${id}`)).body.state, "closed");
  await tapMain(page);
  await leadsTo(page, "/machines/M-101/setups");
  await scan(page, "J-5001");
  await leadsTo(page, "code=J-5001");
  await page.locator("summary", { hasText: "Last time" }).click();
  assert.match((await page.locator("details.then").textContent()) ?? "", /Sam Okoro, Ines Calder/);
  assert.match((await page.locator("details.then").textContent()) ?? "", /Pieces booked: 120/);
  // Nothing is set up without a station, and the page says so in its own words.
  for (const station of await page.locator("input[name^='use-']").all()) await station.uncheck();
  await tapMain(page);
  await page.locator(".refused", { hasText: "Choose at least one station" }).waitFor();
}
