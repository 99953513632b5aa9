// A server of a test file's own, with the demo shop: files run side by side, and none finds what another has left.

import { spawn } from "node:child_process";
import { closeSync, mkdtempSync, openSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createInterface } from "node:readline";

/** The secret of everybody in the demo shop. */
export const secret = "bar-stock-and-cutting-oil";

/** How long a server may take to listen, the demo shop included, on a busy machine. */
const startLimit = 60_000;

/**
 * Starts it and waits until it listens. It ends with this process.
 * @returns {Promise<string>} its address, without a slash at the end
 */
export async function start() {
  const program = process.env.DOVETALLY_TEST_PROGRAM;
  if (!program) throw new Error("DOVETALLY_TEST_PROGRAM is not set: start these tests by tests/browser/run");
  const folder = mkdtempSync(join(tmpdir(), "dovetally-browser."));
  const log = openSync(join(folder, "log"), "w");
  const server = spawn(program, ["serve", "--demo", "--listen", "127.0.0.1:0", "--data-folder", join(folder, "data")], {
    stdio: ["ignore", "pipe", log],
    env: {
      DOVETALLY_DEMO_HISTORY: "none",
      DOVETALLY_DEMO_SECRET: secret,
      DOVETALLY_HASHING: "cheap-for-tests",
      DOVETALLY_LOG: "warn",
    },
  });
  closeSync(log);
  process.on("exit", (code) => {
    server.kill("SIGKILL");
    if (code !== 0) process.stderr.write(readFileSync(join(folder, "log")));
    rmSync(folder, { recursive: true, force: true });
  });
  const failed = (/** @type {string} */ how) => new Error(`${program} ${how}: ${readFileSync(join(folder, "log"))}`);
  return new Promise((resolve, reject) => {
    const limit = setTimeout(() => reject(failed("does not listen")), startLimit);
    server.on("error", reject);
    server.on("exit", () => reject(failed("ended")));
    createInterface({ input: server.stdout }).on("line", (line) => {
      const address = /^listening on (.+)$/.exec(line)?.[1];
      if (address === undefined) return;
      clearTimeout(limit);
      // Neither keeps a file's tests from ending.
      server.unref();
      /** @type {import("node:net").Socket} */ (server.stdout).unref();
      resolve(address);
    });
  });
}
