// The app under test: its own process on its own folder, and a browser that looks at it.
import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

export const binary = process.env.SETAPART_BINARY ?? "../target/release/setapart";

const executablePath = [process.env.CHROMIUM, "/usr/bin/chromium", "/usr/bin/chromium-browser"].find((p) => p && existsSync(p));

/** Starts the app on a folder and waits for its address. */
export async function start(folder = mkdtempSync(join(tmpdir(), "setapart-browser-")), more = []) {
  const child = spawn(binary, ["serve", "--no-browser", "--port", "0", "--workshop", folder, ...more], { stdio: ["ignore", "pipe", "inherit"] });
  let said = "";
  const url = await new Promise((resolve, reject) => {
    child.stdout.on("data", (bytes) => {
      said += bytes;
      const found = /(http:\/\/127\.0\.0\.1:\d+)\//.exec(said);
      if (found) resolve(found[1]);
    });
    child.on("exit", (code) => reject(new Error(`the app ended with ${code}`)));
  });
  const stop = (signal = "SIGTERM") => new Promise((resolve) => {
    child.removeAllListeners("exit");
    child.on("exit", resolve);
    child.kill(signal);
  });
  return { url, folder, stop, pid: child.pid, said: () => said, clear: () => rmSync(folder, { recursive: true, force: true }) };
}

/** A browser without a screen. */
export function browser() {
  return chromium.launch({ executablePath, args: ["--no-sandbox", "--disable-dev-shm-usage"] });
}

/** Asks the app for something as its own pages do. */
export async function post(app, path, data = {}) {
  const response = await fetch(app.url + path, {
    method: "POST",
    headers: { "content-type": "application/json", origin: app.url },
    body: JSON.stringify(data),
  });
  const said = await response.json();
  if (!response.ok) throw new Error(`${path}: ${response.status} ${JSON.stringify(said)}`);
  return said;
}

/** Waits for a job's end and gives its result. */
export async function ended(app, job) {
  const text = await (await fetch(`${app.url}/jobs/${job}`)).text();
  const reports = text.split("\n").filter((l) => l.startsWith("data: ")).map((l) => JSON.parse(l.slice(6)));
  const last = reports.at(-1);
  if (last.stage !== "done") throw new Error(`${last.title}: ${JSON.stringify(last.problem)}`);
  return last.result;
}
