// What form tools have left, and recording their grinds and checks: read back first, then kept.

import assert from "node:assert/strict";
import test from "node:test";
import { choose, read, send, texts } from "./desk.js";
import { tellsFaults } from "./faults.js";
import { api, noMisdeeds, open } from "./harness.js";

test("tools stand by their grinds left, a notch for each", async (t) => {
  const page = await open(t, { role: "grinder", width: 1280, height: 900 });
  await page.goto("/tool-life");
  const codes = await texts(page, "table:not(.chart-table) tbody th");
  assert.ok(codes.length >= 10 && !codes.includes("FT-012"), `retired tools have nothing left: ${codes}`);
  const left = [];
  for (const code of codes) left.push((await read(`/v1/form-tools/${code}/outlook`)).regrinds_left);
  assert.deepEqual(left, left.toSorted((a, b) => a - b), "the worst comes first");
  assert.deepEqual((await texts(page, "table:not(.chart-table) tbody td.number")).map(Number), left);
  const drawn = await page.locator(".for-desk .chart-notch").count();
  assert.equal(drawn, left.map((grinds) => Math.min(grinds, 12)).reduce((a, b) => a + b, 0));
  // What is to be ordered is what the due list says, designs without a tool too.
  const due = (await read("/v1/due?days=366")).items.filter((/** @type {any} */ row) => row.kind === "tool_order");
  const ordered = await texts(page, 'main a[href^="/tool-life/"] .lead-in strong');
  for (const { code } of due) assert.ok(ordered.includes(code), `${code} is not among ${ordered}`);
  assert.equal(await page.textContent(".button.main"), `Open the tool with the fewest grinds left: ${codes[0]}`);
  await send(page);
  assert.equal(new URL(page.url()).pathname, `/tool-life/${codes[0]}`);
  noMisdeeds();
});

test("a grind is read back before it is kept, asked about when it is odd, and passed by somebody else", async (t) => {
  const page = await open(t, { role: "grinder" });
  await page.goto("/form-tools/FT-011/regrinds");
  await page.fill("#before", "0.9.5");
  await page.fill("#note", "Chipped at the rear step");
  await send(page);
  await tellsFaults(page, ["before", "after", "ended"], { before: "0.9.5", note: "Chipped at the rear step" });
  await page.fill("#before", "");

  // Typed in the other unit: it is asked about.
  await page.fill("#after", "22,6");
  await page.fill("#wheel", "Aluminium oxide, cup");
  await choose(page, "ended", "worn");
  await send(page);
  assert.match(await page.locator("main").innerText(), /22.6 in, which is 574.04 mm[\s\S]*other unit/);
  await send(page, 'button[value="change"]');
  assert.equal(await page.inputValue("#after"), "22,6");
  assert.equal(await page.inputValue("#wheel"), "Aluminium oxide, cup");

  // Two marks are refused, and what was typed stays.
  await page.fill("#after", "1,234.5");
  await send(page);
  assert.equal(await page.inputValue("#after"), "1,234.5");
  assert.match(await page.locator("#after-fault").innerText(), /One point or comma/);

  const before = await read("/v1/form-tools/FT-011/regrinds");
  await page.fill("#after", "0,89");
  await send(page);
  assert.match(await page.locator(".read-back").innerText(), /0.89 in, which is 22.606 mm/);
  assert.equal((await read("/v1/form-tools/FT-011/regrinds")).items.length, before.items.length, "nothing is kept yet");
  await send(page);
  assert.equal(new URL(page.url()).pathname, "/tool-life/FT-011");
  const { items } = await read("/v1/form-tools/FT-011/regrinds");
  assert.equal(items.length, before.items.length + 1);
  assert.deepEqual(items[0].height_after, { value: 0.89, unit: "in" });
  assert.deepEqual([items[0].wheel, items[0].dressed, items[0].edge_ended], ["Aluminium oxide, cup", true, "worn"]);

  // Whoever ground it does not pass it: the page says so, and what was typed stays.
  await page.goto("/form-tools/FT-011/checks");
  await page.fill("#height", "0.89");
  await page.fill("#rake", "8");
  await page.check("#profile");
  await choose(page, "verdict", "pass");
  await send(page);
  assert.equal(await page.innerText("#rake-fault"), "Choose plus or minus.", "no sign is taken for granted");
  await choose(page, "rake-sign", "plus");
  await send(page);
  await send(page);
  assert.match(await page.title(), /^Error:/);
  assert.match(await page.locator(".refusals").innerText(), /You ground tool FT-011 yourself/);
  assert.equal(await page.inputValue("#height"), "0.89");

  const inspector = await open(t, { role: "inspector" });
  await inspector.goto("/form-tools/FT-011/checks");
  await inspector.fill("#height", "0.89");
  await inspector.fill("#rake", "8");
  await choose(inspector, "rake-sign", "plus");
  await inspector.check("#profile");
  await choose(inspector, "verdict", "pass");
  await send(inspector);
  await send(inspector);
  assert.equal(new URL(inspector.url()).pathname, "/tool-life/FT-011");
  const tool = await read("/v1/form-tools/FT-011");
  assert.deepEqual([tool.condition, tool.height], ["usable", { value: 0.89, unit: "in" }]);
  noMisdeeds();
});

test("a height that falls by more than three usual grinds is asked about, and kept when it is so", async (t) => {
  const page = await open(t, { role: "grinder" });
  const { height } = await read("/v1/form-tools/FT-008");
  assert.deepEqual(height, { value: 0.77, unit: "in" });
  await page.goto("/form-tools/FT-008/regrinds");
  await choose(page, "ended", "worn");
  await page.fill("#after", "0.72");
  await send(page);
  assert.match(await page.locator(".read-back").innerText(), /0\.72 in[\s\S]*far from 0\.755 in/);
  await send(page);
  assert.equal(new URL(page.url()).pathname, "/tool-life/FT-008");
  assert.deepEqual((await read("/v1/form-tools/FT-008")).height, { value: 0.72, unit: "in" });
  noMisdeeds();
});

const mm = (/** @type {number} */ value) => ({ value, unit: "mm" });

/** Puts a circular tool on record: 30 mm of radius, 20 mm of arc that stay, 180° to grind away. */
async function circularTool() {
  const design = {
    code: "TD-ROUND",
    name: "Circular form",
    kind: "circular",
    steps: [{ diameter: mm(10), z: mm(0), tolerance: { lower: mm(-0.05), upper: mm(0.05) } }],
    rake_deg: 10,
    clearance_deg: 20,
    tool_radius: mm(30),
    usable_angle_deg: 240,
    minimum_height: mm(20),
    grind_stock: mm(0.5),
    holder_style: "CF-A",
    expected_pieces_per_grind: 3000,
  };
  const tool = { code: "FT-ROUND", design: "TD-ROUND", usable_angle_deg: 180, place: "BIN-A1" };
  const designed = await api("supervisor", "/v1/tool-designs", design);
  assert.equal(designed.status, 201, JSON.stringify(designed.body));
  const made = await api("supervisor", "/v1/form-tools", tool);
  assert.equal(made.status, 201, JSON.stringify(made.body));
}

test("a circular tool is ground and checked by the angle that is left", async (t) => {
  await circularTool();
  const page = await open(t, { role: "grinder" });
  await page.goto("/form-tools/FT-ROUND/regrinds");
  const shown = await page.locator("ul.facts").innerText();
  assert.match(shown, /Usable angle on record:\s*180°/);
  assert.match(shown, /A usual grind takes:\s*0\.95°/);
  assert.match((await texts(page, "ul.facts details span"))[0], /an arc of 114\.2478 mm, with the 20 mm that stay/);
  const box = page.locator("#after");
  assert.equal(await box.getAttribute("aria-label"), "Usable angle measured after, °");
  assert.equal(await page.locator('input[name="after-sign"]').count(), 0, "no sign");

  // More than a turn is no angle; the arc in the angle's box, and three grinds and more, are asked about.
  await choose(page, "ended", "worn");
  await page.fill("#after", "400");
  await send(page);
  assert.match(await page.locator("#after-fault").innerText(), /from 0 to 360/);
  await page.fill("#after", "113,7");
  await send(page);
  assert.match(await page.locator(".read-back").innerText(), /113\.7°[\s\S]*far from 179\.05°/);
  await send(page, 'button[value="change"]');
  assert.equal(await page.inputValue("#after"), "113,7");
  await page.fill("#after", "179,05");
  await send(page);
  assert.match(await page.locator(".read-back").innerText(), /179\.05°, which is an arc of 113\.7504 mm/);
  assert.equal(await page.locator(".read-back .fault").count(), 0);
  await send(page);
  assert.equal(new URL(page.url()).pathname, "/tool-life/FT-ROUND");
  assert.equal((await read("/v1/form-tools/FT-ROUND/regrinds")).items[0].usable_angle_deg, 179.05);

  const inspector = await open(t, { role: "inspector" });
  await inspector.goto("/form-tools/FT-ROUND/checks");
  assert.match(await inspector.locator("ul.facts").innerText(), /Usable angle on record:\s*179\.05°/);
  assert.equal(await inspector.locator("#height").getAttribute("aria-label"), "Usable angle measured, °");
  await inspector.fill("#height", "175");
  await inspector.fill("#rake", "10");
  await choose(inspector, "rake-sign", "plus");
  await inspector.fill("#offset", "15");
  await choose(inspector, "offset-sign", "plus");
  await inspector.check("#profile");
  await choose(inspector, "verdict", "pass");
  await send(inspector);
  // 4.05° are more than three usual grinds.
  assert.match(await inspector.locator(".read-back").first().innerText(), /175°[\s\S]*far from 179\.05°/);
  await send(inspector, 'button[value="change"]');
  await inspector.fill("#height", "179");
  await send(inspector);
  assert.equal(await inspector.locator(".read-back .fault").count(), 0);
  await send(inspector);
  assert.equal(new URL(inspector.url()).pathname, "/tool-life/FT-ROUND");
  const told = await inspector.locator("main").innerText();
  for (const angle of ["180°", "179.05°", "179°"]) assert.ok(told.includes(angle), `${angle} in ${told}`);
  const { items } = await read("/v1/form-tools/FT-ROUND/checks");
  assert.deepEqual([items[0].usable_angle_deg, items[0].accepted], [179, true]);
  const tool = await read("/v1/form-tools/FT-ROUND");
  assert.deepEqual([tool.condition, tool.usable_angle_deg], ["usable", 179]);
  noMisdeeds();
});
