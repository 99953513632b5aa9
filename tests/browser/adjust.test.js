// What to turn: words, arrow and record agree, in both directions and both senses; and what is in tolerance is left alone.

import assert from "node:assert/strict";
import test, { before } from "node:test";
import { api, noMisdeeds, open } from "./harness.js";
import { Measured, holds, inch, keep, type } from "./measuring.js";
import { saysWhatBlocks } from "./walking.js";

const shop = new Measured("191");
before(async () => {
  await shop.prepare();
  await shop.beginTrial();
});

/** @param {import("node:test").TestContext} t */
const setter = (t) => open(t, { role: "setter" });

/**
 * Which way the arrow of a page goes, by its geometry alone.
 * @param {import("playwright-core").Page} page
 * @returns {Promise<string[]>}
 */
const arrows = (page) =>
  page.$$eval("figure.way svg", (pictures) =>
    pictures.map((picture) => {
      const box = /** @type {SVGSVGElement} */ (picture).viewBox.baseVal;
      const way = /** @type {SVGPathElement} */ (picture.querySelector(".turn-way"));
      const angle = (/** @type {DOMPoint} */ at) => Math.atan2(at.y - box.height / 2, at.x - box.width / 2);
      const length = way.getTotalLength();
      let turned = 0;
      for (let part = 1; part <= 40; part += 1) {
        const step = angle(way.getPointAtLength((length * part) / 40)) - angle(way.getPointAtLength((length * (part - 1)) / 40));
        turned += Math.atan2(Math.sin(step), Math.cos(step));
      }
      // The head lies where the way ends, not where it begins.
      const tip = /** @type {SVGPathElement} */ (picture.querySelector(".turn-tip")).getBBox();
      const [from, to] = [way.getPointAtLength(0), way.getPointAtLength(length)];
      const far = (/** @type {DOMPoint} */ at) => Math.hypot(tip.x + tip.width / 2 - at.x, tip.y + tip.height / 2 - at.y);
      if (far(to) > far(from)) return "the head is at the wrong end";
      // A picture's y runs down: a growing angle is clockwise to the eye.
      return turned > 0 ? "clockwise" : "counterclockwise";
    }),
  );

/**
 * What the page says of lengths is said in the other unit too, one tap away.
 * @param {import("playwright-core").Page} page
 * @param {RegExp[]} sentences
 */
async function inTheOtherUnit(page, sentences) {
  const said = page.locator("#in-other-unit");
  assert.equal(await said.isVisible(), false);
  await page.locator("details:has(> #in-other-unit) > summary").click();
  for (const sentence of sentences) assert.match(await said.innerText(), sentence);
  assert.doesNotMatch(await said.innerText(), /\d in\b/);
  await page.locator("details:has(> #in-other-unit) > summary").click();
  await page.evaluate(() => window.scrollTo(0, 0));
}

for (const { code, feature, size, target, way, moves } of [
  { code: "S1", feature: "D1", size: 0.504, target: "12.7", way: "clockwise", moves: "The tool moves in" },
  { code: "S1", feature: "D1", size: 0.496, target: "12.7", way: "counterclockwise", moves: "The tool moves out" },
  { code: "S2", feature: "D2", size: 0.604, target: "15.24", way: "counterclockwise", moves: "The tool moves in" },
  { code: "S2", feature: "D2", size: 0.596, target: "15.24", way: "clockwise", moves: "The tool moves out" },
]) {
  test(`${feature} at ${size}: the words and the arrow say ${way}, and it is recorded so`, async (t) => {
    const page = await setter(t);
    await shop.sizes(page, code, feature, 5);
    await type(page, String(size));
    await keep(page);
    await page.waitForURL((url) => url.pathname.endsWith("/adjust"));
    const advice = (await shop.station(code)).advice;
    const correction = advice.answers.flatMap((/** @type {any} */ answer) => answer.corrections).at(-1);
    const sentence = (await page.textContent(".screw .sentence")) ?? "";
    assert.match(sentence, new RegExp(`^Turn the slide turnbuckle .+ turns? ${way}, seen from the operator's side\\.$`));
    assert.deepEqual([correction.direction, await arrows(page)], [way, [way]]);
    await page.locator("main .facts:not(#in-other-unit) li").filter({ hasText: moves }).waitFor();
    await page.locator("#expected", { hasText: feature }).waitFor();
    await inTheOtherUnit(page, [/: the tool moves (in|out) by 0\.0508 mm\./, new RegExp(`diameter of ${target} mm\\.`)]);
    // Between the station and the cut-off.
    const discard = { S1: 5, S2: 4 }[code];
    await page.getByText(`Then throw away ${discard}, measure the next: spindle 5`).waitFor();
    await page.locator(".hazard.warning").waitFor();
    await saysWhatBlocks(page, shop.setup);
    // All that is read before the screw is turned is in sight above the one action.
    const done = await page.locator(".button.main").boundingBox();
    for (const read of [".hazard.warning", ".screw .sentence", "figure.way", "#expected", "#throw-away"]) {
      const box = await page.locator(read).boundingBox();
      assert.ok(done !== null && box !== null && box.y >= 0 && box.y + box.height <= done.y + 0.5, `${read} is covered`);
    }
    await page.click(".button.main");
    await page.waitForURL((url) => url.pathname.endsWith("/sizes"));
    const turned = (await shop.station(code)).adjustments.at(-1);
    assert.deepEqual([turned.adjuster, turned.direction], ["SLIDE", way]);
    assert.ok(Math.abs(turned.turns - correction.turns) < 1e-9);
    await page.getByText(`Throw away the next ${discard} pieces`).waitFor();
    noMisdeeds();
    await page.goto(`/setups/${shop.setup}/adjust?station=${code}`);
    await page.getByText(`Nothing was measured at station ${code}`).waitFor();
    await saysWhatBlocks(page, shop.setup);
    // The box is the setup's: what is scanned is offered to it.
    assert.equal(await page.inputValue('#scan input[name="setup"]'), shop.setup);
    await page.locator("#so-far li").first().filter({ hasText: way }).waitFor();
  });
}

test("a taper turns two screws in order, and the holder is answered for", async (t) => {
  const page = await setter(t);
  await shop.sizes(page, "S3", "D3", 6);
  await type(page, "0.4");
  await keep(page);
  await type(page, "0.712");
  await keep(page);
  await page.waitForURL((url) => url.pathname.endsWith("/adjust"));
  const sentences = await page.locator(".screw .sentence").allTextContents();
  assert.match(sentences[0], /^Turn the taper screw .+ counterclockwise, seen from the front of the holder\.$/);
  assert.equal((await arrows(page))[0], "counterclockwise");
  await page.click(".otherwise summary");
  await page.evaluate(() => window.scrollTo(0, 0));
  await holds(page);
  const before = (await shop.events()).length;
  const [answer] = await Promise.all([page.waitForNavigation(), page.click(".button.main")]);
  assert.equal(answer?.status(), 422);
  assert.equal(await page.locator("#errors li").count(), 2);
  assert.equal((await shop.events()).length, before);
  await page.locator("label", { has: page.locator("input[name=tight][value=yes]") }).click();
  await page.locator("label", { has: page.locator("input[name=free][value=yes]") }).click();
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname.endsWith("/sizes"));
  const turned = (await shop.station("S3")).adjustments.map((/** @type {any} */ taken) => taken.adjuster);
  assert.deepEqual(turned.slice(-sentences.length)[0], "TAPER");
  assert.equal(turned.length, sentences.length);
});

test("what was turned otherwise is recorded as it was turned", async (t) => {
  const page = await setter(t);
  await shop.sizes(page, "S1", "D1", 1);
  await type(page, "0.505");
  await keep(page);
  await page.waitForURL((url) => url.pathname.endsWith("/adjust"));
  await page.click(".otherwise summary");
  await page.fill("#turns-1", "1,234.5");
  await page.click(".button.main");
  await page.locator("#turns-1-fault").waitFor();
  assert.equal(await page.inputValue("#turns-1"), "1,234.5");
  await page.fill("#turns-1", "0,25");
  await page.locator("label", { has: page.locator("input[name='direction-1'][value=counterclockwise]") }).click();
  await page.click(".button.main");
  await page.waitForURL((url) => url.pathname.endsWith("/sizes"));
  const turned = (await shop.station("S1")).adjustments.at(-1);
  assert.deepEqual([turned.turns, turned.direction], [0.25, "counterclockwise"]);
});

test("what was advised for another state is not recorded", async (t) => {
  const page = await setter(t);
  await shop.sizes(page, "S1", "D1", 2);
  await type(page, "0.505");
  await keep(page);
  await page.waitForURL((url) => url.pathname.endsWith("/adjust"));
  await shop.event({ kind: "adjusted", station: "S1", adjuster: "SLIDE", turns: 0.05, direction: "clockwise" });
  const before = (await shop.events()).length;
  const [answer] = await Promise.all([page.waitForNavigation(), page.click(".button.main")]);
  assert.equal(answer?.status(), 409);
  await page.getByText("Somebody recorded something in this setup meanwhile").waitFor();
  assert.equal((await shop.events()).length, before);
});

test("a double tap turns a screw once", async (t) => {
  const page = await setter(t);
  await shop.sizes(page, "S2", "D2", 2);
  await type(page, "0.605");
  await keep(page);
  await page.waitForURL((url) => url.pathname.endsWith("/adjust"));
  const before = (await shop.station("S2")).adjustments.length;
  await page.dblclick(".button.main");
  await page.waitForURL((url) => url.pathname.endsWith("/sizes"));
  assert.equal((await shop.station("S2")).adjustments.length, before + 1);
});

test("in tolerance it says to leave it alone", async (t) => {
  const page = await setter(t);
  await shop.sizes(page, "S2", "D2", 1);
  await shop.event({ kind: "sizes_read", station: "S2", piece: shop.piece + 1, spindle: 1, readings: [{ feature: "D2", value: inch(0.6001) }] });
  shop.piece += 1;
  const advice = (await shop.station("S2")).advice;
  await page.goto(`/setups/${shop.setup}/adjust?station=S2`);
  assert.deepEqual(advice.answers.flatMap((/** @type {any} */ answer) => answer.corrections), [], advice.sentence);
  assert.match((await page.textContent("#verdict .word")) ?? "", /Leave it alone/);
  assert.equal(await page.locator("figure.way").count(), 0, "no arrow");
  assert.equal(await page.locator("form#adjust").count(), 0, "and nothing to record");
  await inTheOtherUnit(page, [/D2: 15\.\d+ mm in the mean, 15\.1892 mm to 15\.2908 mm allowed/, /Leave it alone: .+ mm/]);
  noMisdeeds();
});

test("sizes on which nothing is advised are told as they are", async (t) => {
  const page = await setter(t);
  const { body: floor } = await api("setter", "/v1/floor");
  const inHand = floor.machines.find((/** @type {any} */ machine) => machine.machine === "M-102").setup;
  await page.goto(`/setups/${inHand.id}/adjust?station=CUT`);
  await page.getByText("L1 is inside its limits. Nothing here can be turned for it.").waitFor();
  await page.goto(`/setups/${inHand.id}/adjust?station=S1`);
  await page.locator(".ways .button").getByText("Station CUT: measured, nothing to turn").waitFor();
  noMisdeeds();
});
