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

/** Ends the app and the browser that looked at it, and leaves nothing behind. */
export async function close({ app, chromium }) {
  await chromium?.close();
  await app.stop();
  app.clear();
}

/** The app with nothing in it, and a page at the bench; what goes wrong in it is gathered, but for what was typed wrong on purpose
 * (`expected`: 422, unless told). */
export async function atTheBench(expected = /status of 422/) {
  const app = await start();
  const chromium = await browser();
  const page = await chromium.newPage({ viewport: { width: 1280, height: 800 } });
  const faults = [];
  page.on("pageerror", (e) => faults.push(String(e)));
  page.on("console", (m) => m.type() === "error" && !expected.test(m.text()) && faults.push(m.text()));
  return { app, chromium, page, faults };
}

/** The same with the demo piece. */
export async function demoAtTheBench() {
  const context = await atTheBench();
  const { job } = await post(context.app, "/demo");
  await ended(context.app, job);
  return context;
}

/** When what was done is saved. */
export const saved = (page) => page.waitForFunction(() => document.getElementById("saved")?.textContent === "Saved");

/** Goes to a page and waits for its modules. */
export async function open({ app, page }, path) {
  await page.goto(app.url + path);
  await page.waitForSelector("body[data-ready]");
}
