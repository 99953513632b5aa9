// What a printer makes of a page: dots, dark or light, and where its symbols stand.

import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { inflateSync } from "node:zlib";

const root = join(dirname(fileURLToPath(import.meta.url)), "../..");

/**
 * The brightness of each point of a picture: PNG (ISO/IEC 15948, recalled) with eight bits a channel, as browsers write it.
 * @param {Buffer} png
 * @returns {{across: number, down: number, dots: Buffer}}
 */
export function dotsOf(png) {
  const [across, down, depth, kind, , , interlaced] = [
    png.readUInt32BE(16), png.readUInt32BE(20), png[24], png[25], png[26], png[27], png[28],
  ];
  const channels = { 0: 1, 2: 3, 6: 4 }[kind];
  if (depth !== 8 || channels === undefined || interlaced !== 0) throw new Error("a picture of another kind");
  const parts = [];
  for (let at = 8; at < png.length; ) {
    const length = png.readUInt32BE(at);
    if (png.toString("latin1", at + 4, at + 8) === "IDAT") parts.push(png.subarray(at + 8, at + 8 + length));
    at += length + 12;
  }
  const raw = inflateSync(Buffer.concat(parts));
  const line = across * channels;
  let before = Buffer.alloc(line);
  const dots = Buffer.alloc(across * down);
  for (let row = 0; row < down; row += 1) {
    const filter = raw[row * (line + 1)];
    const now = Buffer.from(raw.subarray(row * (line + 1) + 1, (row + 1) * (line + 1)));
    for (let x = 0; x < line; x += 1) {
      const [left, up, corner] = [x < channels ? 0 : now[x - channels], before[x], x < channels ? 0 : before[x - channels]];
      now[x] += [0, left, up, (left + up) >> 1, nearest(left, up, corner)][filter];
    }
    for (let x = 0; x < across; x += 1) {
      const at = x * channels;
      dots[row * across + x] = channels === 1 ? now[at] : (now[at] + now[at + 1] + now[at + 2]) / 3;
    }
    before = now;
  }
  return { across, down, dots };
}

/** @param {number} left @param {number} up @param {number} corner */
function nearest(left, up, corner) {
  const guess = left + up - corner;
  const [a, b, c] = [Math.abs(guess - left), Math.abs(guess - up), Math.abs(guess - corner)];
  return a <= b && a <= c ? left : b <= c ? up : corner;
}

/**
 * The symbols of the page as it is laid out for print, in CSS pixels: their place with the quiet zone that their standard asks
 * for, the width of their modules, and what stands in that zone.
 * @param {import("playwright-core").Page} page
 * @param {"QRCode" | "DataMatrix"} square what the square symbols of this kind of label are made to
 */
export async function symbolsOf(page, square) {
  return page.evaluate((squareFormat) => {
    const paths = Array.from(document.querySelectorAll(".sheet path"));
    return paths.map((path) => {
      const box = path.getBoundingClientRect();
      const format = box.width > 2 * box.height ? "Code128" : squareFormat;
      const runs = [...(path.getAttribute("d") ?? "").matchAll(/M([\d.]+) [\d.]+H([\d.]+)/g)];
      const scale = box.width / /** @type {SVGPathElement} */ (path).getBBox().width;
      const module = scale * Math.min(...runs.map((run) => Number(run[2]) - Number(run[1])));
      const [aside, above] = { QRCode: [4, 4], DataMatrix: [1, 1], Code128: [10, 0] }[format] ?? [0, 0];
      const zone = new DOMRect(
        box.left - aside * module,
        box.top - above * module,
        box.width + 2 * aside * module,
        box.height + 2 * above * module,
      );
      const beside = Array.from(path.parentElement?.querySelectorAll("path, text") ?? []).filter((other) => {
        const at = other.getBoundingClientRect();
        const apart = at.left >= zone.right || at.right <= zone.left || at.top >= zone.bottom || at.bottom <= zone.top;
        return other !== path && !apart;
      });
      return { format, module, zone: zone.toJSON(), within: beside.map((other) => other.textContent) };
    });
  }, square);
}

/**
 * Has prints read by the decoder of `tests/labels`, which shares no code with the program.
 * @param {{as: string, print: {across: number, dots: Buffer}, symbols: {format: string, text: string, area: number[]}[]}[]} prints
 * @param {number} combinations how many kinds of reading there must be
 */
export function read(prints, combinations) {
  const target = process.env.CARGO_TARGET_DIR ?? join(root, "target");
  const build = ["build", "--quiet", "--locked", "--release", "--manifest-path", join(root, "tests/labels/Cargo.toml")];
  const built = spawnSync("cargo", [...build, "--target-dir", join(target, "label-reader")], { encoding: "utf8" });
  if (built.status !== 0) throw new Error(built.stderr);
  const folder = mkdtempSync(join(tmpdir(), "dovetally-prints-"));
  try {
    const lines = prints.map(({ as, print, symbols }, index) => {
      const dots = join(folder, String(index));
      writeFileSync(dots, print.dots);
      return JSON.stringify({ as, dots, across: print.across, symbols });
    });
    const reader = join(target, "label-reader/release/dovetally-label-reader");
    const said = spawnSync(reader, [String(combinations)], { input: `${lines.join("\n")}\n`, encoding: "utf8" });
    return { sound: said.status === 0, words: said.stdout + said.stderr };
  } finally {
    rmSync(folder, { recursive: true });
  }
}
