// What the tests of sizes and of screws share: a machine of their own, set up to the trial, whose slides turn in both senses.

import assert from "node:assert/strict";
import { api, axe } from "./harness.js";
import * as looks from "./looks.js";

export const inch = (/** @type {number} */ value) => ({ value, unit: "in" });

/** @param {string} badge @param {string} path @param {object} body */
async function done(badge, path, body) {
  const answer = await api(badge, path, body);
  assert.ok([200, 201].includes(answer.status), `${path}: ${JSON.stringify(answer.body)}`);
  return answer.body;
}

/** @param {"tool_in" | "tool_out"} clockwise */
const slide = (clockwise) => ({
  code: "SLIDE",
  name: "slide turnbuckle",
  travel_per_turn: inch(0.05),
  clockwise_moves: clockwise,
  seen_from: "the operator's side",
});

const screw = { threads: [{ per_inch: 20, hand: "right" }], arrangement: "single" };
const holder = [
  { code: "HEIGHT", name: "height screw", ...screw, clockwise_moves: "edge_up", seen_from: "above" },
  {
    code: "TAPER",
    name: "taper screw",
    ...screw,
    clockwise_moves: "far_diameter_up",
    seen_from: "the front of the holder",
    arm: inch(2.5),
  },
];
const limits = { lower: inch(-0.002), upper: inch(0.002) };
/** Each station with the way its slide turns and the diameters that its form makes. */
export const stations = [
  { code: "S1", position: 1, clockwise: /** @type {const} */ ("tool_in"), features: [["D1", 0.5]] },
  { code: "S2", position: 2, clockwise: /** @type {const} */ ("tool_out"), features: [["D2", 0.6]] },
  { code: "S3", position: 3, clockwise: /** @type {const} */ ("tool_in"), features: [["D3", 0.4], ["D4", 0.7]] },
];

/** A setup that is measured, and what the records say of it. */
export class Measured {
  /** @param {string} number tells its machine, tools and part from another file's */
  constructor(number) {
    this.number = number;
    this.machine = `M-${number}`;
    this.setup = "";
    /** The last piece that was measured. */
    this.piece = 0;
  }

  /** Puts everything on record, opens the setup and sets every station. */
  async prepare() {
    await done("supervisor", "/v1/machines", {
      code: this.machine,
      name: "Six-spindle, for sizes",
      spindles: 6,
      positions: 6,
      cutoff_position: 6,
      pieces_per_cycle: 1,
      spindle_rotation: "counterclockwise",
      center_height: { nominal: inch(3.75) },
      stations: stations.map(({ code, position, clockwise }) => ({
        code,
        position,
        kind: "cross_slide",
        tool_face: "up",
        adjusters: [slide(clockwise)],
      })),
    });
    for (const { code, features } of stations) {
      await done("supervisor", "/v1/tool-designs", {
        code: `TD-${this.number}${code}`,
        name: `Form for ${code}`,
        kind: "flat",
        tool_face: "up",
        steps: [
          ...features.map(([, diameter], index) => ({ diameter: inch(Number(diameter)), z: inch(0.2 * index), tolerance: limits })),
          { diameter: inch(0.9), z: inch(0.6), tolerance: limits },
        ],
        rake_deg: 0,
        clearance_deg: 10,
        new_height: inch(1.25),
        minimum_height: inch(0.5),
        grind_stock: inch(0.015),
        holder_style: `DT-${this.number}`,
        expected_pieces_per_grind: 6000,
      });
      const tool = { code: `FT-${this.number}${code}`, design: `TD-${this.number}${code}`, height: inch(1.2), place: "BIN-A1" };
      await done("supervisor", "/v1/form-tools", tool);
      const seat = { code: `HD-${this.number}${code}`, style: `DT-${this.number}`, adjusters: holder, next_check: "2999-12-31", place: "BIN-H1" };
      await done("supervisor", "/v1/holders", seat);
    }
    const gauge = {
      code: `CG-${this.number}`,
      name: "Centre gauge, for sizes",
      machine: this.machine,
      nominal: inch(3.75),
      limits: { lower: inch(-0.0003), upper: inch(0.0003) },
      place: "BIN-G1",
    };
    await done("supervisor", "/v1/center-gauges", gauge);
    const check = { as_found: inch(3.75), standard_uncertainty: inch(0.00005), next_check: "2999-12-31" };
    await done("inspector", `/v1/center-gauges/CG-${this.number}/checks`, check);
    await done("supervisor", "/v1/parts", {
      code: `P-${this.number}`,
      name: "Stepped pin",
      operations: stations.map(({ code, features }) => ({
        station: code,
        tool_design: `TD-${this.number}${code}`,
        holder_style: `DT-${this.number}`,
        features: features.map(([name, diameter]) => ({
          code: name,
          name: `diameter ${name}`,
          kind: "diameter",
          target: inch(Number(diameter)),
          tolerance: limits,
        })),
      })),
    });
    const items = stations.flatMap(({ code }) => [`FT-${this.number}${code}`, `HD-${this.number}${code}`]).concat(`CG-${this.number}`);
    await done("clerk", "/v1/checkouts", { items, person: "setter", machine: this.machine, purpose: "use" });
    const opened = { machine: this.machine, part: `P-${this.number}`, stations: stations.map(({ code }) => ({ station: code })) };
    this.setup = (await done("setter", "/v1/setups", opened)).id;
    for (const { code } of stations) {
      const seat = { seat_clean: true, seated_flush: true, side_screw_free: true };
      await this.event({ kind: "holder_seated", station: code, holder: `HD-${this.number}${code}`, ...seat });
      await this.event({ kind: "tool_inserted", station: code, form_tool: `FT-${this.number}${code}` });
      await this.event({ kind: "gauge_placed", station: code, gauge: `CG-${this.number}`, machine_stopped: true });
      await this.event({ kind: "height_read", station: code, phase: "before_clamping", on_gauge: true });
      await this.event({ kind: "tool_clamped", station: code });
      await this.event({ kind: "height_read", station: code, phase: "after_clamping", on_gauge: true });
      await this.event({ kind: "gauge_removed", station: code, gauge: `CG-${this.number}` });
    }
  }

  /** From stock to the trial. */
  async beginTrial() {
    await this.event({ kind: "stock_fed", bar_diameter: inch(0.95), bar_shape: "round" });
    await this.event({ kind: "index_clearance_confirmed", confirmed: true });
    for (const { code } of stations) await this.event({ kind: "approach_read", station: code, gap: inch(0.01) });
    await this.event({ kind: "trial_cut_begun" });
  }

  /** @param {object} event */
  event(event) {
    return done("setter", `/v1/setups/${this.setup}/events`, event);
  }

  async events() {
    return (await api("setter", `/v1/setups/${this.setup}/events`)).body.items;
  }

  /** What the last event on record says. */
  async last() {
    const last = (await this.events()).at(-1);
    return last.event ?? last;
  }

  /** @param {string} code */
  async station(code) {
    const { body } = await api("setter", `/v1/setups/${this.setup}`);
    return body.stations.find((/** @type {any} */ found) => found.station === code);
  }

  /**
   * The size page of a feature, for the next piece of a spindle.
   * @param {import("playwright-core").Page} page
   * @param {string} code
   * @param {string} feature
   * @param {number} spindle
   */
  async sizes(page, code, feature, spindle) {
    this.piece += 12;
    const asked = new URLSearchParams({ station: code, feature, spindle: String(spindle), piece: String(this.piece) });
    await page.goto(`/setups/${this.setup}/sizes?${asked}`);
  }
}

/**
 * Types a size and has it told back.
 * @param {import("playwright-core").Page} page
 * @param {string} text
 */
export async function type(page, text) {
  await page.fill("#value", text);
  await page.click(".button.main");
}

/** @param {import("playwright-core").Page} page */
export const keep = (page) => page.click("#keep button.main");

/**
 * The rules of every page, on what only a form that was sent shows.
 * @param {import("playwright-core").Page} page
 */
export async function holds(page) {
  for (const scheme of /** @type {const} */ (["light", "dark"])) {
    await page.emulateMedia({ colorScheme: scheme, reducedMotion: "reduce" });
    assert.deepEqual(await axe(page), []);
    assert.deepEqual(await page.evaluate(looks.weakContrast, { text: 7, marks: 3 }), []);
  }
  assert.deepEqual(await page.evaluate(looks.wordless), []);
  assert.deepEqual(await page.evaluate(looks.bareCharts), []);
  assert.deepEqual(await page.evaluate(looks.mainAction, { height: 120, full: true }), []);
  assert.deepEqual(await page.evaluate(looks.hardToHit, { height: 64, gap: 16 }), []);
  await page.setViewportSize({ width: 320, height: 640 });
  assert.equal(await page.evaluate(() => document.scrollingElement?.scrollWidth), 320);
  await page.setViewportSize({ width: 360, height: 740 });
}
