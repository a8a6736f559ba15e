// axe-core on every page, by day and under the lamp, at the bench, on a tablet and on a phone.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { browser, close, ended, post, start } from "../app.js";
import { shoot } from "../look.js";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const SIZES = { bench: [1280, 800], tablet: [820, 1180], phone: [390, 844] };

export async function before() {
  const app = await start();
  const { job } = await post(app, "/demo");
  await ended(app, job);
  const { go } = await post(app, "/pieces", { name: "Nothing in it yet" });
  const chromium = await browser();
  return { app, chromium, empty: go.split("/")[2] };
}

export { close as after };

async function look({ app, chromium }, path, name, prepare = async () => {}) {
  const found = [];
  for (const theme of ["light", "dark"]) {
    await post(app, "/settings", { theme });
    for (const [size, [width, height]] of Object.entries(SIZES)) {
      // The tests bring axe along; the app's own policy would not let it in.
      const page = await chromium.newPage({ viewport: { width, height }, bypassCSP: true });
      await page.goto(app.url + path);
      await page.waitForLoadState("load");
      await prepare(page);
      await page.evaluate(axe);
      const { violations } = await page.evaluate(() => globalThis.axe.run());
      found.push(...violations.map((v) => `${name}, ${theme}, ${size}: ${v.id}: ${v.help}: ${v.nodes.map((n) => n.target.join(" ")).slice(0, 4).join(" | ")}`));
      await shoot(page, `${name}-${theme}-${size}`);
      // Between the sizes too, where the rail is tightest.
      for (const w of size === "bench" ? [width, 1180, 1030] : [width]) {
        await page.setViewportSize({ width: w, height });
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
        if (wide > 0) found.push(`${name}, ${theme}, ${size} at ${w} px: ${wide} px too wide`);
      }
      await page.close();
    }
  }
  assert.deepEqual(found, []);
}

const ready = (page) => page.waitForSelector("body[data-ready]", { timeout: 120000 });

export const tests = {
  "the shelf": (c) => look(c, "/", "shelf"),
  "a page that is not there": (c) => look(c, "/nowhere", "nowhere"),
  "Capture": (c) => look(c, "/piece/1/capture", "capture", ready),
  "Capture without photos": (c) => look(c, `/piece/${c.empty}/capture`, "capture-empty"),
  "Drawer": (c) => look(c, "/piece/1/drawer?part=p3", "drawer", ready),
  "Drawer without parts": (c) => look(c, `/piece/${c.empty}/drawer`, "drawer-empty"),
  "Board": (c) => look(c, "/piece/1/board", "board", ready),
  "Board with a part chosen": (c) => look(c, "/piece/1/board?part=main-board", "board-part", async (page) => {
    await ready(page);
    await page.locator(".label select").first().selectOption({ index: 4 });
  }),
  "Board without parts": (c) => look(c, `/piece/${c.empty}/board`, "board-empty"),
  "Intake": (c) => look(c, "/piece/1/intake", "intake", ready),
  "Intake of a new piece": (c) => look(c, `/piece/${c.empty}/intake`, "intake-empty", ready),
  "Donors": (c) => look(c, "/piece/1/donors", "donors", ready),
  "Donors without lots": (c) => look(c, `/piece/${c.empty}/donors`, "donors-empty", ready),
  "Costing": (c) => look(c, "/piece/1/costing", "costing", async (page) => {
    await ready(page);
    for (const summary of await page.locator("main summary").all()) await summary.click();
  }),
  "Costing without parts": (c) => look(c, `/piece/${c.empty}/costing`, "costing-empty", ready),
  "Homes": (c) => look(c, "/piece/1/homes", "homes-demo", ready),
  "Homes without parts": (c) => look(c, `/piece/${c.empty}/homes`, "homes-empty"),
  "History": (c) => look(c, "/piece/1/history", "history", ready),
  "Chances": (c) => look(c, "/chances/handheld", "chances", ready),
  "Stock": (c) => look(c, "/stock", "stock", ready),
  "Build": (c) => look(c, "/piece/1/build", "build"),
  "Sheets": (c) => look(c, "/piece/1/sheets", "sheets"),
};
