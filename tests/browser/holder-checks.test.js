// Checks of holders: what is found on them, and whether they may be used.

import assert from "node:assert/strict";
import test, { before } from "node:test";
import { choose, read, send } from "./desk.js";
import { tellsFaults } from "./faults.js";
import { api, axe, noMisdeeds, open } from "./harness.js";
import { inch } from "./measuring.js";

const HOLDER = "HD-192";

before(async () => {
  const holder = {
    code: HOLDER,
    style: "DT-192",
    place: "BIN-H1",
    check_interval_days: 90,
    adjusters: [
      {
        code: "TAPER",
        name: "taper screw",
        threads: [{ per_inch: 20, hand: "right" }],
        arrangement: "single",
        clockwise_moves: "far_diameter_up",
        seen_from: "the front of the holder",
        arm: inch(2.5),
      },
    ],
  };
  const { status, body } = await api("supervisor", "/v1/holders", holder);
  assert.equal(status, 201, JSON.stringify(body));
});

test("a holder with a burr on its seat is not accepted, is out of use, and comes back by a better check", async (t) => {
  const page = await open(t, { role: "inspector" });
  await page.goto(`/items/${HOLDER}`);
  await send(page, `a[href="/holders/${HOLDER}/checks"]`);
  assert.match(await page.locator("main").innerText(), /No check is on record/);
  assert.equal(await page.locator("#height, #side").count(), 0, "it is asked of the screws that it has");

  // No verdict: told at its field, and what was ticked stays.
  await page.check("#found-burr_on_seat");
  await send(page);
  await tellsFaults(page, ["verdict"]);
  assert.equal(await page.isChecked("#found-burr_on_seat"), true);

  // What was found speaks against the verdict.
  await page.check("#taper");
  await choose(page, "verdict", "pass");
  await send(page);
  assert.match(await page.locator(".refusals").innerText(), /not accepted with this: burr on seat[\s\S]*seat of holder HD-192 is not clean/);
  assert.deepEqual(await axe(page), []);
  assert.equal((await read(`/v1/holders/${HOLDER}/checks`)).items.length, 0, "nothing is recorded that is refused");

  // Something else was found: the note has to say what.
  await page.check("#found-other");
  await choose(page, "verdict", "check_again");
  await send(page);
  assert.equal(await page.locator("#note-fault").count(), 1);
  await page.fill("#note", "Rear edge, from a chip");
  await send(page);
  assert.equal(new URL(page.url()).pathname, `/items/${HOLDER}`);
  const found = (await read(`/v1/holders/${HOLDER}/checks`)).items[0];
  assert.deepEqual([found.accepted, found.found, found.note], [false, ["burr_on_seat", "other"], "Rear edge, from a chip"]);
  assert.deepEqual([found.seat_clean, found.taper_adjuster_free, found.condition], [false, true, "needs_check"]);
  assert.match(await page.locator("main").innerText(), /Last check: /);

  // What is due leads here; stoned and cleaned, it is accepted.
  await page.goto("/due?kind=holder_blocked");
  await send(page, `.lines a[href="/holders/${HOLDER}/checks"]`);
  assert.match(await page.locator("main").innerText(), /Last check:[\s\S]*burr on the seat/);
  await page.check("#seat");
  await page.check("#taper");
  await choose(page, "verdict", "pass");
  await send(page);
  const holder = await read(`/v1/holders/${HOLDER}`);
  assert.equal(holder.condition, "usable");
  assert.ok(holder.next_check > new Date().toISOString().slice(0, 10), holder.next_check);
  noMisdeeds();
});
